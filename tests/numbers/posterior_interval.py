"""Equal-tailed posterior intervals of a difference with SciPy: writes posterior_interval.csv.

P(p1 - p2 < d) is integrated over the probability scale of the second proportion, that is the
mean of F1(F2^-1(u) + d) over u between 0 and 1, by Gauss-Legendre on panels that narrow towards
both ends and towards the place where the line leaves the square: another variable and another
rule than the ones under test.
"""
import csv

import numpy as np
from scipy.optimize import brentq
from scipy.stats import beta

places, weights = np.polynomial.legendre.leggauss(60)
HALVINGS = 0.5 ** np.arange(50, 1, -1)
NARROWING = np.concatenate([[0], HALVINGS, [0.5], 1 - HALVINGS[::-1], [1]])


def lower_side(d, a1, b1, a2, b2):
    kink = beta.cdf(1 - d if d > 0 else -d, a2, b2)
    edges = np.unique(np.concatenate([kink * NARROWING, kink + (1 - kink) * NARROWING]))
    low, high = edges[:-1, None], edges[1:, None]
    u = (low + high) / 2 + (high - low) / 2 * places
    y = beta.ppf(u, a2, b2)
    return float((beta.cdf(y + d, a1, b1) * weights * (high - low) / 2).sum())


CASES = [
    (0, 20, 0, 25), (1, 30, 4, 40), (3, 500, 9, 600), (2, 1000, 3, 1500), (95, 100, 97, 100),
    (480, 500, 470, 500), (50, 100, 20, 30), (12, 4000, 10, 8000), (5, 5, 0, 3), (700, 2000, 650, 2100),
]
with open("posterior_interval.csv", "w", newline="") as out:
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow("x1,n1,x2,n2,prior_a,prior_b,level,estimate,lower,upper".split(","))
    for x1, n1, x2, n2 in CASES:
        for a, b, level in [(1, 1, 0.95), (0.5, 0.5, 0.95), (2, 18, 0.9), (1, 1, 0.999)]:
            shapes = (a + x1, b + n1 - x1, a + x2, b + n2 - x2)
            tail = (1 - level) / 2
            limits = [brentq(lambda d: lower_side(d, *shapes) - t, -1, 1, xtol=1e-14, rtol=1e-13) for t in (tail, 1 - tail)]
            estimate = shapes[0] / (shapes[0] + shapes[1]) - shapes[2] / (shapes[2] + shapes[3])
            writer.writerow([x1, n1, x2, n2, a, b, level] + [f"{v:.17g}" for v in (estimate, *limits)])
