"""Variance of a mean over centres from the whole covariance matrix: writes design_effect.csv.

No design-effect formula is used: the matrix of correlations between all cases is summed. The
cases over a fixed number of centres are found by trying one size after another.
"""
import csv
import math
import random

import numpy as np

random.seed(7)


def effect(sizes, rho):
    centre = np.repeat(np.arange(len(sizes)), sizes)
    correlation = np.where(centre[:, None] == centre[None, :], rho, 0.0)
    np.fill_diagonal(correlation, 1.0)
    return correlation.sum() / len(centre)


def over_centres(n, k, rho):
    """Fewest cases N over k centres of N/k cases (a fraction allowed) worth n independent ones."""
    for cases in range(n, 2_000_000):
        if cases / (1 + max(cases / k - 1, 0) * rho) >= n * (1 - 1e-12):
            return cases
    return None


with open("design_effect.csv", "w", newline="") as out:
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["sizes", "correlation", "design_effect", "effective", "independent", "over_centres"])
    for _ in range(40):
        k = random.choice([1, 2, 5, 7, 12])
        if random.random() < 0.4:
            sizes = [random.choice([1, 2, 10, 60])] * k
        else:
            sizes = [random.choice([1, 3, 20, 50, 130, 300]) for _ in range(k)]
        rho = random.choice([0.0, 0.001, 0.01, 0.02, 0.05, 0.2, 1.0])
        deff = effect(sizes, rho)
        n = random.choice([3, 20, 100, 400, 1500])
        found = over_centres(n, k, rho) if rho < 1 and n * rho < 0.999 * k or n <= k else ""
        writer.writerow([" ".join(map(str, sizes)), rho, f"{deff:.17g}", f"{sum(sizes) / deff:.17g}", n, found])
