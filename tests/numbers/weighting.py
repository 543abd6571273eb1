"""Writes weighting_centres.csv: weighted differences and log ratios with their variances, written out.

Everything is brute force: the stacked estimating functions are differentiated centre by centre with
complex steps, and every matrix of the clustered variance is formed as it stands in the definition.
python3 weighting.py > weighting_centres.csv
"""
import csv
import sys

import numpy as np

TARGETS = {
    "whole": (lambda e: 1 / e, lambda e: 1 / (1 - e)),
    "first": (lambda e: 1 + 0 * e, lambda e: e / (1 - e)),
    "second": (lambda e: (1 - e) / e, lambda e: 1 + 0 * e),
    "overlap": (lambda e: 1 - e, lambda e: e),
}


def read(name):
    with open("covariates.csv") as file:
        rows = [row for row in csv.DictReader(file) if row["set_id"] == name]
    column = lambda key: np.array([float(row[key]) for row in rows])
    x = np.column_stack([column(f"x{k}") for k in range(1, 7)])
    return column("y"), column("t"), column("site").astype(int), x


def fit(x, t):
    """Newton's method for the logistic likelihood."""
    gamma = np.zeros(x.shape[1])
    for _ in range(50):
        e = 1 / (1 + np.exp(-x @ gamma))
        step = np.linalg.solve(x.T @ (x * (e * (1 - e))[:, None]), x.T @ (t - e))
        gamma += step
    assert np.max(np.abs(step)) < 1e-10
    return gamma


def scores(theta, x, t, y, target):
    """Estimating functions of each case: propensity model, then both weighted risks."""
    e = 1 / (1 + np.exp(-x @ theta[:-2]))
    w1, w0 = TARGETS[target][0](e), TARGETS[target][1](e)
    return np.column_stack(
        [x * (t - e)[:, None], t * w1 * (y - theta[-2]), (1 - t) * w0 * (y - theta[-1])]
    )


def bread(theta, x, t, y, target):
    """Minus the derivative of the summed estimating functions, by complex steps."""
    columns = []
    for k in range(len(theta)):
        moved = theta.astype(complex)
        moved[k] += 1e-30j
        columns.append(-scores(moved, x, t, y, target).sum(axis=0).imag / 1e-30)
    return np.column_stack(columns)


def clustered(contrast, psi, breads, members):
    """Plain, CR0, CR1, CR2 standard errors and Satterthwaite degrees of freedom of one contrast."""
    total = np.linalg.inv(sum(breads))
    rho = contrast @ total
    omegas = [psi[m].T @ psi[m] for m in members]
    omega, centres = sum(omegas), len(members)
    sums = [rho @ psi[m].sum(axis=0) for m in members]
    tau = [rho @ b @ total for b in breads]
    # Covariance of what is left of each centre's sum after estimation, cases independent.
    left = np.empty((centres, centres))
    for g in range(centres):
        for h in range(centres):
            left[g, h] = (g == h) * (rho @ omegas[g] @ rho) - rho @ omegas[g] @ tau[h]
            left[g, h] += tau[g] @ omega @ tau[h] - tau[g] @ omegas[h] @ rho
    wanted = np.array([rho @ o @ rho for o in omegas])
    # A centre whose sum the estimation fixes at 0 has nothing to be scaled.
    scale = np.array([np.sqrt(w / a) if a > 1e-10 * w else 0.0 for w, a in zip(wanted, np.diag(left))])
    cr2 = sum((k * s) ** 2 for k, s in zip(scale, sums))
    p = left * np.outer(scale, scale)
    cr0 = sum(s * s for s in sums)
    return (
        np.sqrt(sum(wanted)), np.sqrt(cr0), np.sqrt(cr0 * centres / (centres - 1)), np.sqrt(cr2),
        np.trace(p) ** 2 / np.sum(p * p),
    )


def main():
    print("set_id,model,target,measure,estimate,se_plain,se_cr0,se_cr1,se_cr2,df")
    for name in ("lalonde", "reg_a", "reg_b", "reg_small"):
        y, t, site, covariates = read(name)
        one = np.ones((len(y), 1))
        few = site % 7
        dummies = np.column_stack([(few == k).astype(float) for k in range(1, 7)])
        models = {
            "covariates, given centres": (np.hstack([one, covariates]), site),
            "covariates and seven centres": (np.hstack([one, covariates, dummies]), few),
            "intercept, seven centres": (one, few),
        }
        for model, (x, centre) in models.items():
            if name == "reg_small" and "and" in model:
                continue  # too few cases for so many covariates
            members = [centre == c for c in np.unique(centre)]
            for target in TARGETS:
                e = 1 / (1 + np.exp(-x @ (gamma := fit(x, t))))
                w = t * TARGETS[target][0](e), (1 - t) * TARGETS[target][1](e)
                risks = [np.sum(v * y) / np.sum(v) for v in w]
                theta = np.concatenate([gamma, risks])
                psi = scores(theta, x, t, y, target)
                breads = [bread(theta, x[m], t[m], y[m], target) for m in members]
                zeros = [0.0] * x.shape[1]
                for measure, estimate, ends in (
                    ("difference", risks[0] - risks[1], [1, -1]),
                    ("log_ratio", np.log(risks[0] / risks[1]), [1 / risks[0], -1 / risks[1]]),
                    (
                        "log_ratio_of_absence",
                        np.log((1 - risks[0]) / (1 - risks[1])),
                        [-1 / (1 - risks[0]), 1 / (1 - risks[1])],
                    ),
                ):
                    values = clustered(np.array(zeros + ends), psi, breads, members)
                    numbers = ",".join(f"{float(v):.17g}" for v in (estimate, *values))
                    print(f'{name},"{model}",{target},{measure},{numbers}')


if __name__ == "__main__":
    main()
