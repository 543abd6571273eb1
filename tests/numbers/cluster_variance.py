"""Reference values for CR2 and for standardised effects, by the definitions and with matrices of
the size of the data: nothing here uses the low-rank algebra of the code under test.

Run beside covariates.csv; writes cluster_variance.csv and standardised.csv. Needs NumPy, SciPy.
"""

import csv

import numpy as np
from scipy.special import expit

SETS = ["lalonde", "reg_a", "reg_b", "reg_small"]


def read(name):
    rows = [r for r in csv.DictReader(open("covariates.csv")) if r["set_id"] == name]
    x = np.array([[float(r[c]) for c in ["t", "x1", "x2", "x3", "x4", "x5", "x6"]] for r in rows])
    return x, np.array([float(r["y"]) for r in rows]), np.array([int(r["site"]) for r in rows])


def fit(x, y):
    beta = np.zeros(x.shape[1])
    for _ in range(60):
        p = expit(x @ beta)
        step = np.linalg.solve(x.T @ (x * (p * (1 - p))[:, None]), x.T @ (y - p))
        beta += step
        if np.max(np.abs(step)) < 1e-13 * (1 + np.max(np.abs(beta))):
            return beta, expit(x @ beta)
    return None, None


def inverse_root(matrix):
    value, vector = np.linalg.eigh(matrix)
    root = np.array([v**-0.5 if v > 1e-9 else 0.0 for v in value])
    return vector * root @ vector.T


class Cr2:
    """weighted: the root is taken of I - H on the weighted scale. Otherwise of D V D', V the
    variance of the residuals y - p of a cluster and D the root of p(1 - p), which is what R's
    clubSandwich does; its standard errors of the same data agree to eleven digits."""

    def __init__(self, x, y, site, weighted):
        self.beta, p = fit(x, y)
        # Residuals y - p of variance theta, terms by their effect on p, weights 1 / theta.
        self.theta = p * (1 - p)
        x, w, residual = x * self.theta[:, None], 1 / self.theta, y - p
        self.bread = np.linalg.inv(x.T @ (x * w[:, None]))
        hat = x @ self.bread @ (x * w[:, None]).T
        keep = np.eye(len(y)) - hat
        self.levels = np.unique(site)
        self.scores, self.carriers = [], []
        for g in self.levels:
            own = np.flatnonzero(site == g)
            root = np.sqrt(w[own])
            if weighted:
                inner = np.eye(len(own)) - root[:, None] * (x[own] @ self.bread @ x[own].T) * root[None, :]
                a = inverse_root(inner) * root[None, :] / root[:, None]
            else:
                d = np.sqrt(self.theta[own])
                v = np.diag(self.theta[own]) - x[own] @ self.bread @ x[own].T
                a = d[:, None] * inverse_root(d[:, None] * v * d[None, :]) * d[None, :]
            carried = (x[own] * w[own][:, None]).T @ a
            self.scores.append(carried @ residual[own])
            self.carriers.append(carried @ keep[own])

    def parts(self, c):
        return np.array([c @ self.bread @ s for s in self.scores])

    def working(self, c):
        rows = np.array([c @ self.bread @ k for k in self.carriers])
        return rows * self.theta[None, :] @ rows.T


def satterthwaite(p):
    return np.trace(p) ** 2 / np.sum(p * p)


def standardise(x, beta):
    risks, gradients, own = [], [], []
    for arm in (1.0, 0.0):
        moved = x.copy()
        moved[:, 1] = arm
        m = expit(moved @ beta)
        risks.append(m.mean())
        gradients.append(((m * (1 - m))[:, None] * moved).mean(axis=0))
        own.append((m - m.mean()) / len(m))
    return np.array(risks), np.array(gradients), np.array(own)


# Cases beside those of the model whose outcome is certain in either arm.
BESIDE = 40


def ratio(r1, r0):
    return np.log(r1 / r0), np.array([1 / r1, -1 / r0])


def certain_beside(r1, r0, cases):
    """Ratios of the event and of its absence, with cases beside the model; only for a sample."""
    absence, weights = ratio(1 - r1, 1 - r0)
    more = BESIDE / cases
    beside, moved = ratio(1 - r1 + more, 1 - r0 + more)
    return {
        "log_ratio_of_absence": (absence, -weights),
        "log_ratio_beside": ratio(r1 + more, r0 + more),
        "log_ratio_of_absence_beside": (beside, -moved),
    }


def effects(r1, r0):
    return {
        "risk1": (r1, [1, 0]),
        "risk0": (r0, [0, 1]),
        "difference": (r1 - r0, [1, -1]),
        "log_ratio": (np.log(r1 / r0), [1 / r1, -1 / r0]),
        "log_odds_ratio": (
            np.log(r1 / (1 - r1) / (r0 / (1 - r0))),
            [1 / (r1 * (1 - r1)), -1 / (r0 * (1 - r0))],
        ),
    }


def main():
    coefficients = csv.writer(open("cluster_variance.csv", "w"), lineterminator="\n")
    coefficients.writerow(["set_id", "centres_in_model", "root", "term", "estimate", "se", "df"])
    standard = csv.writer(open("standardised.csv", "w"), lineterminator="\n")
    standard.writerow(["set_id", "centres_in_model", "root", "covariates", "effect", "estimate", "se", "df"])
    for name in SETS:
        covariates, y, site = read(name)
        for centres in (0, 1):
            x = np.column_stack([np.ones(len(y)), covariates])
            if centres:
                x = np.column_stack([x] + [site == s for s in np.unique(site)[1:]]).astype(float)
            if fit(x, y)[0] is None or np.max(np.abs(fit(x, y)[0])) > 15:
                print(name, centres, "no finite maximum")
                continue
            # The unweighted root is not meaningful to the last digits when V is singular.
            for root in ("weighted",) if centres else ("weighted", "full"):
                cr2 = Cr2(x, y, site, root == "weighted")
                terms = ["intercept", "t", "x1", "x2", "x3", "x4", "x5", "x6"]
                for place, term in enumerate(terms):
                    if centres and place == 0:
                        continue
                    c = np.eye(x.shape[1])[place]
                    se = np.sqrt(np.sum(cr2.parts(c) ** 2))
                    coefficients.writerow([name, centres, root, term, f"{cr2.beta[place]:.17g}",
                                           f"{se:.17g}", f"{satterthwaite(cr2.working(c)):.17g}"])
                risks, gradients, own = standardise(x, cr2.beta)
                groups = len(cr2.levels)
                by_centre = np.array([own[:, site == s].sum(axis=1) for s in cr2.levels])
                contrast = np.eye(groups) - 1 / groups
                of_sample = certain_beside(*risks, len(y))
                for effect, (estimate, alpha) in {**effects(*risks), **of_sample}.items():
                    c = np.array(alpha) @ gradients
                    model, sampled = cr2.parts(c), by_centre @ np.array(alpha)
                    p = cr2.working(c)
                    spread = groups / (groups - 1) * np.sum(sampled**2)
                    for kind, variance, covariance in [
                        ("fixed", np.sum(model**2), p),
                        ("sampled", np.sum((model + np.sqrt(groups / (groups - 1)) * sampled) ** 2),
                         p + spread / (groups - 1) * contrast),
                    ]:
                        if effect in of_sample and kind == "fixed":
                            continue
                        standard.writerow([name, centres, root, kind, effect, f"{estimate:.17g}",
                                           f"{np.sqrt(variance):.17g}", f"{satterthwaite(covariance):.17g}"])


main()
