"""Power of a non-inferiority comparison in 50-digit arithmetic: writes planning.csv.

The restricted proportions are found by bisecting the slope of the likelihood, not by a
closed form, so this is another route than the one under test.
"""
import csv
import random

from mpmath import erfc, findroot, log, mp, mpf, sqrt

mp.dps = 50
random.seed(20261125)


def quantile(tail):
    return findroot(lambda z: erfc(z / sqrt(2)) / 2 - tail, 2)


def bisect(slope, low, high):
    for _ in range(180):
        middle = (low + high) / 2
        low, high = (middle, high) if slope(middle) > 0 else (low, middle)
    return (low + high) / 2


def restricted(p1, p2, theta, first, derivative, low, high):
    """p2 under a null where the first proportion is first(p2)."""
    def slope(q):
        r = first(q)
        return derivative * (p1 / r - (1 - p1) / (1 - r)) + theta * (p2 / q - (1 - p2) / (1 - q))
    q = bisect(slope, low, high)
    return first(q), q


def power(method, p1, p2, null, alpha, n1, theta):
    n2 = n1 * theta
    spread = lambda a, b, phi: a * (1 - a) / n1 + phi**2 * b * (1 - b) / n2
    if method == "farrington_manning":
        r = restricted(p1, p2, theta, lambda q: q + null, 1, max(mpf(0), -null), min(mpf(1), 1 - null))
        distance, v0, v1 = p1 - p2 - null, spread(*r, 1), spread(p1, p2, 1)
    elif method == "blackwelder":
        distance, v0, v1 = p1 - p2 - null, spread(p1, p2, 1), spread(p1, p2, 1)
    elif method == "farrington_manning_ratio":
        r = restricted(p1, p2, theta, lambda q: null * q, null, mpf(0), min(mpf(1), 1 / null))
        distance, v0, v1 = p1 - null * p2, spread(*r, null), spread(p1, p2, null)
    else:
        v0 = v1 = (1 - p1) / (n1 * p1) + (1 - p2) / (n2 * p2)
        distance = log(p1 / p2) - log(null)
    return erfc(-(abs(distance) - quantile(alpha) * sqrt(v0)) / sqrt(v1) / sqrt(2)) / 2


def cases():
    """Method, outcome, p1, p2, null, alpha, theta."""
    yield "farrington_manning", "harm", "0.001", "0.001", "0.01", "0.025", "1"
    yield "farrington_manning", "harm", "0.001", "0.0012", "0.002", "0.025", "3"
    yield "farrington_manning_ratio", "harm", "0.001", "0.001", "1.25", "0.025", "1"
    yield "wald_log_ratio", "harm", "0.001", "0.001", "1.25", "0.025", "0.5"
    for method in ["farrington_manning", "blackwelder", "farrington_manning_ratio", "wald_log_ratio"]:
        for _ in range(20):
            outcome = random.choice(["harm", "benefit"])
            p2 = random.choice(["0.02", "0.06", "0.15", "0.4", "0.85", "0.95"])
            p1 = random.choice([p2, f"{float(p2) * random.choice([0.98, 1.02]):.4f}"])
            if "ratio" in method:
                null = random.choice(["1.25", "1.5", "2"] if outcome == "harm" else ["0.5", "0.8", "0.9"])
            else:
                null = random.choice(["0.03", "0.05", "0.1"])
                null = null if outcome == "harm" else "-" + null
            yield method, outcome, p1, p2, null, random.choice(["0.025", "0.05"]), random.choice(["0.5", "1", "2"])


with open("planning.csv", "w", newline="") as out:
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow("method,outcome,p1,p2,null,alpha,theta,n1,n2,power".split(","))
    for method, outcome, p1, p2, null, alpha, theta in cases():
        f = [mpf(float(v)) for v in (p1, p2, null, alpha)]
        low, high = 2, 4
        while power(method, *f, mpf(high), mpf(theta)) < 0.85:
            low, high = high, 2 * high
        for n1 in (low, random.randrange(low, high, 2), high):
            value = power(method, *f, mpf(n1), mpf(theta))
            if value < mpf("0.9999"):
                writer.writerow([method, outcome, p1, p2, null, alpha, theta, n1, int(n1 * float(theta)), f"{float(value):.17g}"])
