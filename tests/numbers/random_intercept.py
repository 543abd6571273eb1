"""Writes random_intercept_exact.csv: random-intercept logistic fits without Gauss–Hermite points.

The likelihood of each centre is integrated by the trapezoid rule on 6,001 points, and SciPy
finds the maximum. Run after random_intercept.R as:
python3 random_intercept.py > random_intercept_exact.csv
"""

import csv
import sys

import numpy as np
from scipy.optimize import minimize, root
from scipy.special import expit, logsumexp

GRID = np.linspace(-12, 12, 6001)
PRIOR = -GRID**2 / 2 - np.log(np.sqrt(2 * np.pi)) + np.log(GRID[1] - GRID[0])


def log_terms(beta, sigma, x, n):
    eta = beta + sigma * GRID
    return x[:, None] * eta - n[:, None] * np.logaddexp(0, eta) + PRIOR


def score(place, x, n):
    """Derivatives by beta and sigma: posterior means of the slopes."""
    beta, sigma = place
    terms = log_terms(beta, sigma, x, n)
    weights = np.exp(terms - logsumexp(terms, axis=1, keepdims=True))
    slope = weights * (x[:, None] - n[:, None] * expit(beta + sigma * GRID))
    return np.array([slope.sum(), (slope * GRID).sum()])


def fit(x, n):
    start = np.array([np.log(x.sum() / (n - x).sum()), 0.7])
    minus = lambda place: -logsumexp(log_terms(*place, x, n), axis=1).sum()
    rough = minimize(minus, start, jac=lambda place: -score(place, x, n)).x
    beta, sigma = root(score, [rough[0], abs(rough[1])], args=(x, n), tol=1e-13).x
    h = 1e-5
    information = -np.array(
        [(score((beta + h, sigma), x, n) - score((beta - h, sigma), x, n)) / (2 * h),
         (score((beta, sigma + h), x, n) - score((beta, sigma - h), x, n)) / (2 * h)]
    )
    weight = np.exp(PRIOR)
    marginal = (weight * expit(beta + sigma * GRID)).sum() / weight.sum()
    return beta, np.sqrt(np.linalg.inv(information)[0, 0]), sigma**2, marginal


def main():
    rows = list(csv.DictReader(open("random_intercept_counts.csv")))
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow("set_id,log_odds,se,tau_squared,marginal".split(","))
    for name in dict.fromkeys(row["set_id"] for row in rows):
        if name.startswith("none"):
            continue  # The maximum lies at the edge, where there is no equation to solve.
        x, n = (np.array([float(r[c]) for r in rows if r["set_id"] == name]) for c in ("x", "n"))
        out.writerow([name, *(repr(float(value)) for value in fit(x, n))])


main()
