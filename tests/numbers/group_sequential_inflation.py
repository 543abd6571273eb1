"""Writes group_sequential_inflation.csv: python3 group_sequential_inflation.py

How many times the cases of one look a one-sided plan with several takes. The density of the
statistic among plans that go on is carried from look to look on 400 fixed Gauss-Legendre points;
boundaries and drift are roots found by SciPy.
"""
import csv

import numpy as np
from scipy.optimize import brentq
from scipy.stats import norm

POINTS, WEIGHTS = np.polynomial.legendre.leggauss(400)


def exits(fractions, boundaries, drift):
    """Probability of reaching each boundary, of a sum with mean drift * t and variance t."""
    found, places, masses, before = [], np.array([0.0]), np.array([1.0]), 0.0
    for t, z in zip(fractions, boundaries):
        step, edge = np.sqrt(t - before), z * np.sqrt(t)
        mean = places + drift * (t - before)
        found.append(float(np.sum(masses * norm.sf((edge - mean) / step))))
        low = drift * t - 12 * np.sqrt(t)
        half, centre = (edge - low) / 2, (edge + low) / 2
        new = centre + half * POINTS
        density = (masses[None, :] * norm.pdf((new[:, None] - mean[None, :]) / step)).sum(axis=1) / step
        places, masses, before = new, half * WEIGHTS * density, t
    return found


def boundaries(fractions, spent):
    found, before = [], 0.0
    for k, total in enumerate(spent):
        wanted = total - before
        found.append(brentq(lambda z: exits(fractions[: k + 1], found + [z], 0.0)[-1] / wanted - 1, -2, 12,
                            xtol=1e-14, rtol=1e-14))
        before = total
    return found


def fleming(alpha, t):
    return 2 * norm.sf(norm.isf(alpha / 2) / np.sqrt(t))


def pocock(alpha, t):
    return alpha * np.log1p((np.e - 1) * t)


with open("group_sequential_inflation.csv", "w", newline="") as out:
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["fractions", "spent", "power", "inflation"])
    for fractions in [[1.0], [0.5, 1.0], [0.3, 1.0], [0.9, 1.0], [0.5, 0.8], [1 / 3, 2 / 3, 1.0],
                      [0.25, 0.5, 0.75, 1.0], [0.2, 0.4, 0.6, 0.8, 1.0]]:
        for alpha in [0.025, 0.005, 0.05]:
            for spend in [fleming, pocock, lambda a, t: a * t, lambda a, t: a * t**3]:
                spent = [alpha if t == 1 else float(spend(alpha, t)) for t in fractions]
                limits = boundaries(fractions, spent)
                for power in [0.8, 0.9]:
                    single = norm.isf(spent[-1]) + norm.ppf(power)
                    drift = brentq(lambda d: sum(exits(fractions, limits, d)) - power, 0.5, 12,
                                   xtol=1e-14, rtol=1e-14)
                    writer.writerow([" ".join(f"{t:.17g}" for t in fractions),
                                     " ".join(f"{s:.17g}" for s in spent),
                                     power, f"{(drift / single) ** 2:.17g}"])
