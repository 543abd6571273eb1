"""Writes positivity.csv, one line an arm: python3 positivity.py > positivity.csv"""
import numpy as np

from weighting import TARGETS, fit, read

print("set_id,target,low,high,arm,cases,smallest,largest,below,above,outside,share,ess,classes,overlap")
for name in ("lalonde", "reg_a", "reg_b", "reg_small"):
    _, t, _, covariates = read(name)
    x = np.hstack([np.ones((len(t), 1)), covariates])
    e = 1 / (1 + np.exp(-x @ fit(x, t)))
    sides = {"first": e[t == 1], "second": e[t == 0]}
    low = max(side.min() for side in sides.values())
    high = min(side.max() for side in sides.values())
    classes = {arm: np.histogram(side, bins=20, range=(0, 1))[0] for arm, side in sides.items()}
    overlap = sum(np.minimum(*(c / c.sum() for c in classes.values())))
    for target, weight in TARGETS.items():
        for bounds in ((0.1, 0.9), (0.25, 0.4)):
            for arm, side in sides.items():
                w = weight[arm == "second"](side)
                counts = (side < bounds[0]).sum(), (side > bounds[1]).sum(), ((side < low) | (side > high)).sum()
                numbers = [f"{float(v):.17g}" for v in (side.min(), side.max())]
                shares = [f"{float(v):.17g}" for v in (w.max() / w.sum(), w.sum() ** 2 / (w @ w))]
                print(name, target, *bounds, arm, len(side), *numbers, *counts, *shares,
                      " ".join(map(str, classes[arm])), f"{overlap:.17g}", sep=",")
