"""Writes evenness.csv with SciPy: python3 evenness.py > evenness.csv

The approximation is scipy.stats.chisquare. The exact p is a sum of scipy.stats.multinomial
probabilities over every possible set of counts, so it is given where those can be listed.
"""
import itertools
import numpy as np
from scipy import stats


def compositions(total, parts):
    for bars in itertools.combinations(range(total + parts - 1), parts - 1):
        edges = (-1,) + bars + (total + parts - 1,)
        yield [b - a - 1 for a, b in zip(edges, edges[1:])]


def exact(counts):
    n, k = sum(counts), len(counts)
    every = np.array(list(compositions(n, k)))
    reached = every[(every**2).sum(axis=1) >= (np.array(counts) ** 2).sum()]
    return float(np.exp(stats.multinomial.logpmf(reached, n, [1 / k] * k)).sum())


draw = np.random.default_rng(20261128)
sets = [[1, 0], [3, 3], [5, 0, 0], [1] * 10, [10] + [0] * 9, [4, 0, 0, 0, 0, 4, 0, 0, 0, 0]]
sets += [list(draw.multinomial(n, [1 / k] * k)) for k in (2, 3, 5) for n in (7, 20, 40)]
sets += [list(draw.multinomial(8, [1 / 10] * 10)) for _ in range(3)]
sets += [list(draw.multinomial(n, [1 / 10] * 10)) for n in (60, 400, 5000)]
sets += [list(draw.multinomial(n, [0.25, 0.05, 0.1, 0.05, 0.05, 0.25, 0.05, 0.1, 0.05, 0.05])) for n in (50, 300)]
sets += [list(draw.multinomial(9, [1 / 9] * 9)), list(draw.multinomial(700, [1 / 9] * 9))]
print("set_id,category,count,statistic,p,p_exact")
for number, counts in enumerate(sets, 1):
    statistic, p = stats.chisquare(counts)
    few = np.prod([sum(counts) + i for i in range(1, len(counts))], dtype=float) < 3e5 * np.prod(range(1, len(counts)), dtype=float)
    p_exact = f"{exact(counts):.17g}" if few else ""
    for place, count in enumerate(counts):
        print(f"{number},{place},{count},{float(statistic):.17g},{float(p):.17g},{p_exact}")
