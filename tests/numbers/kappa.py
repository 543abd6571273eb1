"""Writes kappa.csv with statsmodels: python3 kappa.py > kappa.csv

Estimate and standard error are statsmodels.stats.inter_rater.cohens_kappa, limits by its normal
quantile and cut at -1 and 1. Each is compared here with scikit-learn's cohen_kappa_score and with the
delta method by complex steps, which knows no formula of a variance; the script fails where they differ.
"""
import numpy as np
from scipy import stats
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.inter_rater import cohens_kappa


def kappa(shares):
    agreed = np.trace(shares)
    chance = (shares.sum(axis=1) * shares.sum(axis=0)).sum()
    return (agreed - chance) / (1 - chance)


def delta_error(counts):
    n = counts.sum()
    shares = counts / n
    slope = np.zeros(counts.size)
    for place in range(counts.size):
        moved = shares.astype(complex).ravel()
        moved[place] += 1e-30j
        slope[place] = kappa(moved.reshape(counts.shape)).imag / 1e-30
    flat = shares.ravel()
    return np.sqrt((flat @ slope**2 - (flat @ slope) ** 2) / n)


draw = np.random.default_rng(20261129)
tables = [[[20, 5], [10, 15]], [[45, 15], [25, 15]], [[1, 1], [1, 0]], [[0, 3], [2, 1]], [[88, 10], [14, 2]]]
tables += [[[22, 3, 0, 1], [4, 31, 2, 0], [1, 2, 9, 1], [0, 1, 0, 3]]]
for k in (2, 3, 4):
    for n in (8, 25, 80, 1000):
        agree = draw.uniform(0.1, 0.9)
        first = draw.dirichlet(np.full(k, 2.0))
        cells = (1 - agree) * np.outer(first, draw.dirichlet(np.full(k, 2.0))) + agree * np.diag(first)
        tables.append(draw.multinomial(n, (cells / cells.sum()).ravel()).reshape(k, k))
print("set_id,first,second,count,level,estimate,lower,upper")
number = 0
for table in tables:
    counts = np.array(table)
    found = cohens_kappa(counts)
    error = float(found.std_kappa)
    if not error > 1e-9 or np.trace(counts) == counts.sum():
        continue
    number += 1
    pairs = [(i, j) for i in range(len(counts)) for j in range(len(counts)) for _ in range(counts[i, j])]
    point = cohen_kappa_score(*zip(*pairs), labels=list(range(len(counts))))
    assert abs(point - found.kappa) < 1e-12 and abs(error - delta_error(counts)) < 1e-10, table
    level = (0.95, 0.9, 0.99)[number % 3]
    reach = stats.norm.ppf((1 + level) / 2) * error
    lower, upper = max(found.kappa - reach, -1.0), min(found.kappa + reach, 1.0)
    for i in range(len(counts)):
        for j in range(len(counts)):
            print(f"{number},c{i},c{j},{counts[i, j]},{level},{found.kappa:.17g},{lower:.17g},{upper:.17g}")
