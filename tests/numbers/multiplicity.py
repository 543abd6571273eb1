"""Writes multiplicity.csv with statsmodels and NumPy: python3 multiplicity.py > multiplicity.csv"""
import numpy as np
from statsmodels.stats.multitest import multipletests

print("set_id,position,p,holm,fixed_sequence")
draw = np.random.default_rng(20261125)
sets = [[0.03], [0.01, 0.04], [0.04, 0.01], [0.02, 0.02, 0.02], [0.0, 1.0, 0.5], [0.013, 0.02, 0.013, 0.04, 0.04]]
sets += [list(draw.beta(0.4, 2, size)) for size in (3, 7, 20, 100)]
sets += [list(np.round(draw.beta(0.4, 2, 30), 2)), [10.0 ** -k for k in range(300, 0, -50)]]
for number, p in enumerate(sets, 1):
    holm = multipletests(p, method="holm")[1]
    sequence = np.maximum.accumulate(p)
    for place, values in enumerate(zip(p, holm, sequence), 1):
        print(f"{number},{place}," + ",".join(f"{float(v):.17g}" for v in values))
