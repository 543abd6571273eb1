"""Writes centre_effects_sparse.csv: centres with zero cells, as statsmodels and SciPy see them.

Run as: python3 centre_effects.py > centre_effects_sparse.csv
"""

import csv
import sys

import numpy as np
from scipy.stats import binom
from statsmodels.stats.contingency_tables import Table2x2
from statsmodels.stats.meta_analysis import effectsize_2proportions

SETS = {
    # Events and cases of the first arm, then of the second.
    "double_zero": [(0, 217, 0, 157), (2, 145, 2, 147), (0, 31, 0, 620), (4, 216, 8, 199)],
    "one_sided": [(0, 116, 3, 117), (1, 44, 3, 35), (5, 5, 3, 8), (0, 70, 1, 58)],
    "lopsided": [(0, 1, 0, 1), (12, 4000, 0, 25), (0, 3, 900, 90000), (1, 1, 1, 1), (7, 60, 2, 61)],
}


def size_matched(row):
    x1, n1, x2, n2 = row
    cells = np.array([[x1, n1 - x1], [x2, n2 - x2]], float)
    if (cells == 0).any():
        cells += np.array([[n1], [n2]]) / (n1 + n2)
    return Table2x2(cells, shift_zeros=False)


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow("set_id,measure,centre,x1,n1,x2,n2,estimate,variance".split(","))
    for name, rows in SETS.items():
        x1, n1, x2, n2 = np.array(rows, float).T
        rate1, rate2 = x1.sum() / n1.sum(), x2.sum() / n2.sum()
        estimates, own = effectsize_2proportions(x1, n1, x2, n2, statistic="diff")
        common = binom.var(n1, rate1) / n1**2 + binom.var(n2, rate2) / n2**2
        for place, row in enumerate(rows):
            table = size_matched(row)
            measures = {
                "difference_by_common_rates": (estimates[place], common[place]),
                "log_odds_ratio_size_matched": (table.log_oddsratio, table.log_oddsratio_se**2),
                "log_risk_ratio_size_matched": (table.log_riskratio, table.log_riskratio_se**2),
            }
            if own[place] > 0:
                measures["difference"] = (estimates[place], own[place])
            for measure, (estimate, variance) in measures.items():
                out.writerow([name, measure, place + 1, *row, repr(float(estimate)), repr(float(variance))])


main()
