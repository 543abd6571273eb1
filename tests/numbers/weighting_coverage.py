"""Prints how often 95 % limits of the overlap-weighted difference hold the truth.

4,300 cases in seven centres of unequal size, which differ in how often they choose the first arm and
in their results; the harder cases more often get the second arm and do worse. An argument names the
networks to draw (600 take a minute or two a line): python3 weighting_coverage.py 600
"""
import sys

import numpy as np
from scipy.stats import norm
from scipy.stats import t as student

from weighting import bread, clustered, fit, scores

CENTRE = np.repeat(np.arange(7), [1200, 900, 700, 550, 450, 300, 200])


def chance(logit):
    return 1 / (1 + np.exp(-logit))


def draw(random, base, effect_spread):
    by_centre = lambda spread: random.normal(0, spread, 7)[CENTRE]
    hard, age = random.normal(size=(2, len(CENTRE))) + np.array([by_centre(0.3), by_centre(0)])
    propensity = chance(by_centre(0.8) - 0.6 * hard + 0.2 * age)
    worse = np.sign(-base) * (0.6 * hard + 0.2 * age) + by_centre(0.4)
    risks = chance(base + worse + by_centre(effect_spread)), chance(base + worse)
    t = (random.random(len(CENTRE)) < propensity) * 1.0
    y = (random.random(len(CENTRE)) < np.where(t == 1, *risks)) * 1.0
    weight = propensity * (1 - propensity)
    return hard, age, t, y, np.array([np.sum(weight * (risks[0] - risks[1])), np.sum(weight)])


def estimate(hard, age, t, y):
    dummies = [(CENTRE == k) * 1.0 for k in range(1, 7)]
    x = np.column_stack([np.ones(len(t)), hard, age, *dummies])
    e = chance(x @ (gamma := fit(x, t)))
    w = t * (1 - e), (1 - t) * e
    theta = np.concatenate([gamma, [np.sum(v * y) / np.sum(v) for v in w]])
    members = [CENTRE == k for k in range(7)]
    breads = [bread(theta, x[m], t[m], y[m], "overlap") for m in members]
    contrast = np.array([0.0] * x.shape[1] + [1, -1])
    return theta[-2] - theta[-1], *clustered(contrast, scores(theta, x, t, y, "overlap"), breads, members)


def main(networks):
    for name, base, spread in [("success", 2.7, 0), ("success, effect varies by centre", 2.7, 0.4),
                               ("harm", -4.2, 0), ("harm, effect varies by centre", -4.2, 0.5)]:
        random = np.random.default_rng(1)
        parts = sum(draw(random, base, spread)[-1] for _ in range(1000))
        truth, held, dfs = parts[0] / parts[1], np.zeros(4), []
        for _ in range(networks):
            found, plain, cr0, cr1, cr2, df = estimate(*draw(random, base, spread)[:-1])
            reach = [norm.isf(0.025) * plain, norm.isf(0.025) * cr0, student.isf(0.025, 6) * cr1,
                     student.isf(0.025, df) * cr2]
            held += abs(found - truth) <= np.array(reach)
            dfs.append(df)
        print(f"{name}: these centres {held[0] / networks:.1%}, CR0 with z {held[1] / networks:.1%}, "
              f"CR1 with t(6) {held[2] / networks:.1%}, CR2 with Satterthwaite {held[3] / networks:.1%}, "
              f"median degrees of freedom {np.median(dfs):.1f}", flush=True)


main(int(sys.argv[1]))
