"""Average half-widths with SciPy and statsmodels, every table counted: writes precision.csv.

Large groups are averaged over the range that holds all but 1e-15 of the probability. The
fewest cases are found by trying one size after another.
"""
import csv

import numpy as np
from scipy.stats import binom
from statsmodels.stats.proportion import proportion_confint

ONE = {"wilson": "wilson", "clopper_pearson": "beta"}


def one(method, n, p, level):
    x = np.arange(binom.ppf(1e-16, n, p), binom.isf(1e-16, n, p) + 1)
    lower, upper = proportion_confint(x, n, 1 - level, ONE[method])
    return float((binom.pmf(x, n, p) * (upper - lower)).sum() / 2)


def newcombe(n1, n2, p1, p2, level):
    x1 = np.arange(max(binom.ppf(1e-16, n1, p1), 0), binom.isf(1e-16, n1, p1) + 1)[:, None]
    x2 = np.arange(max(binom.ppf(1e-16, n2, p2), 0), binom.isf(1e-16, n2, p2) + 1)[None, :]
    (l1, u1), (l2, u2) = (proportion_confint(x, n, 1 - level, "wilson") for x, n in ((x1, n1), (x2, n2)))
    down = np.hypot(x1 / n1 - l1, u2 - x2 / n2)
    up = np.hypot(u1 - x1 / n1, x2 / n2 - l2)
    return float((binom.pmf(x1, n1, p1) * binom.pmf(x2, n2, p2) * (down + up)).sum() / 2)


def fewest(width, wanted, low):
    """Fewest cases, going up from a size that is surely too small."""
    assert width(low) > wanted
    while width(low) > wanted:
        low += 1
    return low


with open("precision.csv", "w", newline="") as out:
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow("method,n1,n2,p1,p2,level,half_width,wanted,fewest".split(","))
    for method in ONE:
        for n, p, level in [
            (1, 0.3, 0.95), (10, 0.5, 0.95), (60, 0.02, 0.95), (400, 0.95, 0.9), (2000, 0.001, 0.95),
            (3000, 0.35, 0.99), (50000, 0.06, 0.95), (300000, 0.001, 0.95), (800000, 0.4, 0.95),
        ]:
            half = one(method, n, p, level)
            found = wanted = ""
            if 1 < n <= 3000:
                wanted = round(half, 4)
                found = fewest(lambda m: one(method, m, p, level), wanted, max(1, n // 2))
            writer.writerow([method, n, "", p, "", level, f"{half:.17g}", wanted, found])
    for n1, theta, p1, p2, level in [
        (8, 2, 0.4, 0.3, 0.95), (50, 1, 0.02, 0.05, 0.95), (300, 1, 0.95, 0.96, 0.95), (300, 2, 0.01, 0.02, 0.9),
        (2000, 1, 0.001, 0.001, 0.95), (6000, 1, 0.4, 0.3, 0.95), (4000, 3, 0.1, 0.12, 0.95),
    ]:
        half = newcombe(n1, n1 * theta, p1, p2, level)
        found = wanted = ""
        if n1 <= 300:
            wanted = round(half, 3)
            found = fewest(lambda m: newcombe(m, m * theta, p1, p2, level), wanted, max(1, n1 // 2))
        writer.writerow(["newcombe", n1, n1 * theta, p1, p2, level, f"{half:.17g}", wanted, found])
