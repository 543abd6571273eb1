"""The planned estimates and those without each centre, in NumPy.

peer.py FOLDER prints the seconds, the peak memory of the process in KiB and one limit. Reading
the data is not timed. Student's quantile is left out: NumPy has none, so the limit printed is the
normal one.
"""

import sys
import time

import numpy as np

FOLDER = sys.argv[1]
ENDPOINTS = ["acute_success", "major_within_30_days"]
POPULATIONS = ["as_intended", "per_protocol"]


def read(name):
    return np.loadtxt(f"{FOLDER}/{name}", delimiter=",", skiprows=1)


def expit(x):
    return 1.0 / (1.0 + np.exp(-x))


def columns(table, arm):
    centres = np.unique(table[:, 0])[1:]
    parts = [np.ones(len(table))] + [(table[:, 0] == c).astype(float) for c in centres]
    parts += [table[:, j] for j in range(4, table.shape[1]) if np.ptp(table[:, j]) > 0]
    if arm:
        parts.append(table[:, 1])
    return np.column_stack(parts)


def logistic(X, y, m):
    scale = np.maximum(X.std(axis=0), 1e-12)
    scale[0] = 1.0
    X = X / scale
    beta = np.zeros(X.shape[1])
    for _ in range(50):
        p = expit(X @ beta)
        step = np.linalg.solve((X * (m * p * (1 - p))[:, None]).T @ X, X.T @ (m * (y - p)))
        beta += step
        if np.abs(step).max() < 1e-10:
            break
    return beta / scale


def standardised(table):
    X, m, y = columns(table, True), table[:, 3], table[:, 2]
    beta = logistic(X, y, m)
    n, p = m.sum(), expit(X @ beta)
    arms = []
    for arm in (1.0, 0.0):
        X[:, -1] = arm
        q = expit(X @ beta)
        arms.append((q, (m * q).sum() / n, (m * q * (1 - q)) @ X / n))
    X[:, -1] = table[:, 1]
    difference, gradient = arms[0][1] - arms[1][1], arms[0][2] - arms[1][2]
    sampled = m * (arms[0][0] - arms[1][0] - difference) / n
    w = np.sqrt(m * p * (1 - p))
    M = np.linalg.inv((X * (w * w)[:, None]).T @ X)
    root = np.linalg.cholesky(M)
    parts = []
    for centre in np.unique(table[:, 0]):
        own = table[:, 0] == centre
        Z = X[own] * w[own][:, None]
        values, vectors = np.linalg.eigh(root.T @ (Z.T @ Z) @ root)
        values = values.clip(0, 1)
        factor = np.where(values < 1 - 1e-9, 1 / np.sqrt(np.maximum(1 - values, 1e-300)), 0)
        pulled = vectors @ (factor * (vectors.T @ (root.T @ gradient)))
        score = X[own].T @ (m[own] * (y[own] - p[own]))
        parts.append((pulled @ (root.T @ score), sampled[own].sum(), pulled, values, vectors))
    G = len(parts)
    own = np.array([part[1] for part in parts]) * np.sqrt(G / (G - 1))
    fitted = np.array([v @ (values * (v.T @ pulled)) for _, _, pulled, values, v in parts])
    BB = np.array([part[2] @ f for part, f in zip(parts, fitted)])
    P = np.diag(BB) - fitted @ fitted.T
    Q = P + (own @ own) / (G - 1) * (np.eye(G) - 1 / G)
    variance = ((np.array([part[0] for part in parts]) + own) ** 2).sum()
    return difference, variance, np.trace(Q) ** 2 / (Q * Q).sum()


def overlap(table):
    X, m, t, y = columns(table, False), table[:, 3], table[:, 1], table[:, 2]
    e = expit(X @ logistic(X, t, m))
    weight = m * np.where(t == 1, 1 - e, e)
    total = [weight[t == 1].sum(), weight[t == 0].sum()]
    risk = [(weight * y)[t == 1].sum() / total[0], (weight * y)[t == 0].sum() / total[1]]
    w = np.where(t == 1, (1 - e) / total[0], e / total[1])
    apart = np.column_stack([t * w * (y - risk[0]), (1 - t) * w * (y - risk[1])])
    slope = (e * (1 - e))[:, None] * np.column_stack(
        [-t * (y - risk[0]) / total[0], (1 - t) * (y - risk[1]) / total[1]]
    )
    k = X.shape[1]

    def derivative(own):
        D = np.zeros((k + 2, k + 2))
        D[:k, :k] = (X[own] * (m * e * (1 - e))[own][:, None]).T @ X[own]
        D[k:, :k] = -(slope[own] * m[own][:, None]).T @ X[own]
        D[k, k], D[k + 1, k + 1] = (m * w * t)[own].sum(), (m * w * (1 - t))[own].sum()
        return D

    psi = np.column_stack([X * (t - e)[:, None], apart])
    inverse = np.linalg.inv(derivative(slice(None)))
    rho = np.r_[np.zeros(k), 1, -1] @ inverse
    influence = psi @ rho
    omega = (psi * m[:, None]).T @ psi
    lines = [table[:, 0] == centre for centre in np.unique(table[:, 0])]
    sums = np.array([(m * influence)[own].sum() for own in lines])
    v = np.array([(m * influence**2)[own].sum() for own in lines])
    crossed = np.array([(m * influence)[own] @ psi[own] for own in lines])
    taken = np.array([rho @ derivative(own) @ inverse for own in lines])
    left = np.diag(v) - crossed @ taken.T - taken @ crossed.T + taken @ omega @ taken.T
    scale = np.sqrt(v / np.diag(left))
    P = left * np.outer(scale, scale)
    return risk[0] - risk[1], ((scale * sums) ** 2).sum(), np.trace(P) ** 2 / (P * P).sum()


def main():
    tables = {(e, p): read(f"patterns-{e}-{p}.csv") for e in ENDPOINTS for p in POPULATIONS}
    start = time.perf_counter()
    kept = None
    for (endpoint, population), table in tables.items():
        found = standardised(table)
        overlap(table)
        kept = kept or found[0] + 1.959963984540054 * np.sqrt(found[1])
        if population == "as_intended":
            for centre in np.unique(table[:, 0]):
                standardised(table[table[:, 0] != centre])
    seconds = time.perf_counter() - start
    with open("/proc/self/status") as status:
        peak = next(line.split()[1] for line in status if line.startswith("VmHWM"))
    print(f"{seconds:.2f} {peak} {kept:.9f}")


main()
