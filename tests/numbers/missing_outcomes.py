"""Writes missing_outcomes.csv: every combination of missing events is decided, none inferred.

Newcombe limits from statsmodels; the Miettinen-Nurminen decision from the test at the margin,
whose restricted proportions SciPy finds on the slope of the likelihood.
python3 missing_outcomes.py > missing_outcomes.csv
"""
import sys
from math import sqrt

import numpy as np
from scipy.optimize import brentq
from scipy.stats import norm
from statsmodels.stats.proportion import confint_proportions_2indep


def newcombe(x1, n1, x2, n2, level):
    return confint_proportions_2indep(x1, n1, x2, n2, method="newcomb", alpha=1 - level)


def z_miettinen_nurminen(x1, n1, x2, n2, delta):
    low, high = max(0.0, -delta), min(1.0, 1.0 - delta)

    def slope(q):
        p = q + delta
        part = lambda cases, at: 0.0 if cases == 0 else cases / at
        return part(x2, q) + part(x1, p) - part(n2 - x2, 1 - q) - part(n1 - x1, 1 - p)

    a, b = low + 1e-14, high - 1e-14
    q = low if slope(a) <= 0 else high if slope(b) >= 0 else brentq(slope, a, b, xtol=1e-15)
    p = q + delta
    variance = (p * (1 - p) / n1 + q * (1 - q) / n2) * (n1 + n2) / (n1 + n2 - 1)
    return (x1 / n1 - x2 / n2 - delta) / sqrt(variance)


def shown(counts, outcome, margin, level, method):
    if method == "newcombe":
        lower, upper = newcombe(*counts, level)
        return lower > -margin if outcome == "benefit" else upper < margin
    quantile = norm.isf((1 - level) / 2)
    if outcome == "benefit":
        return z_miettinen_nurminen(*counts, -margin) > quantile
    return z_miettinen_nurminen(*counts, margin) < -quantile


def row(out, case, arms, outcome, margin, level, method):
    x1, s1, k1, x2, s2, k2 = arms
    at = lambda i, j: (x1 + i, s1 + k1, x2 + j, s2 + k2)
    # How many of the numbers 0..k2 show non-inferiority, and that they stand at one end.
    counts = []
    for i in range(k1 + 1):
        line = [bool(shown(at(i, j), outcome, margin, level, method)) for j in range(k2 + 1)]
        assert line == sorted(line, reverse=outcome == "benefit"), (case, line)
        counts.append(sum(line))
    worst, best = ((k1, 0), (0, k2)) if outcome == "harm" else ((0, k2), (k1, 0))
    limits = [""] * 4
    if method == "newcombe":
        limits = [f"{float(v):.17g}" for v in (*newcombe(*at(*worst), level), *newcombe(*at(*best), level))]
    print(case, *arms, outcome, margin, level, method, *limits, " ".join(map(str, counts)), sep=",", file=out)


def main():
    out = sys.stdout
    print("case,x1,seen1,missing1,x2,seen2,missing2,outcome,margin,level,method,"
          "worst_lower,worst_upper,best_lower,best_upper,shown", file=out)
    draw = np.random.default_rng(20261125)
    sets = [
        ((3, 380, 20, 7, 400, 15), "harm", 0.02),
        ((360, 380, 20, 370, 400, 15), "benefit", 0.05),
        ((0, 0, 6, 4, 90, 5), "harm", 0.10),
        ((8, 60, 0, 9, 70, 0), "harm", 0.15),
        ((0, 150, 8, 0, 140, 9), "harm", 0.04),
        ((150, 150, 8, 140, 140, 9), "benefit", 0.06),
        ((1, 30, 3, 2, 25, 30), "harm", 0.20),
    ]
    for _ in range(8):
        s1, s2 = (int(v) for v in draw.integers(80, 600, 2))
        outcome = "harm" if draw.random() < 0.5 else "benefit"
        rate = 0.04 if outcome == "harm" else 0.94
        x1, x2 = int(draw.binomial(s1, rate)), int(draw.binomial(s2, rate))
        k1, k2 = (int(v) for v in draw.integers(1, 25, 2))
        sets.append(((x1, s1, k1, x2, s2, k2), outcome, round(float(draw.uniform(0.03, 0.09)), 3)))
    case = 0
    for arms, outcome, margin in sets:
        for method in ("newcombe", "miettinen_nurminen"):
            for level in (0.95, 0.9):
                case += 1
                row(out, f"M{case:03}", arms, outcome, margin, level, method)


main()
