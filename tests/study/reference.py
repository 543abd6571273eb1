#!/usr/bin/env python3
"""Reference limits for the published counts, by a second route of their own:
the score statistic is inverted with the restricted likelihood maximised
directly (no cubic), in 40-digit arithmetic. Python's standard library only.

    tests/study/reference.py > tests/study/published.csv
"""
from decimal import Decimal as D, getcontext
from math import comb
from statistics import NormalDist

getcontext().prec = 40
Z = D(NormalDist().inv_cdf(0.975))

# study, endpoint, events and cases without and with fluoroscopy
COUNTS = [
    ("no_party_2016", "acute_success", 134, 134, 128, 128),
    ("no_party_2016", "major", 0, 134, 0, 128),
    ("zerofluoro_2022", "acute_success", 61, 62, 60, 61),
    ("zerofluoro_2022", "major", 0, 62, 0, 61),
    ("idiopathic_va_2017", "acute_success", 137, 163, 278, 326),
    ("idiopathic_va_2017", "major", 1, 163, 3, 326),
    ("cryoballoon_2023", "acute_success", 50, 50, 50, 50),
    ("cryoballoon_2023", "major", 0, 50, 0, 50),
    ("newcombe_1998_a", "acute_success", 56, 70, 48, 80),
    ("newcombe_1998_d", "acute_success", 5, 56, 0, 29),
    ("newcombe_1998_f", "acute_success", 0, 10, 0, 10),
]
MARGIN = {"acute_success": D("-0.03"), "major": D("0.01")}


def halve(f, lo, hi):
    """Root of an f that is positive at lo and not at hi."""
    for _ in range(130):
        mid = (lo + hi) / 2
        lo, hi = (mid, hi) if f(mid) > 0 else (lo, mid)
    return (lo + hi) / 2


def restricted(x1, n1, x2, n2, delta):
    """The most likely p1, p2 with p1 - p2 = delta, by the sign of the slope."""
    lo, hi = max(D(0), -delta), min(D(1), 1 - delta)

    def slope(p2):
        p1 = p2 + delta
        part = lambda cases, p: D(0) if cases == 0 else cases / p
        return part(x1, p1) - part(n1 - x1, 1 - p1) + part(x2, p2) - part(n2 - x2, 1 - p2)

    tiny = D(10) ** -36
    if hi - lo < 4 * tiny or slope(lo + tiny) <= 0:
        return lo + delta, lo
    if slope(hi - tiny) >= 0:
        return hi + delta, hi
    p2 = halve(slope, lo + tiny, hi - tiny)
    return p2 + delta, p2


def score(x1, n1, x2, n2, delta, factor):
    p1, p2 = restricted(x1, n1, x2, n2, delta)
    variance = (p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2) * factor
    distance = D(x1) / n1 - D(x2) / n2 - delta
    return distance / variance.sqrt() if variance > 0 else D(0) if distance == 0 else distance.copy_sign(D("Inf"))


def miettinen_nurminen(x1, n1, x2, n2):
    estimate, factor = D(x1) / n1 - D(x2) / n2, D(n1 + n2) / (n1 + n2 - 1)
    z = lambda delta: score(x1, n1, x2, n2, delta, factor)
    edge, beside = D(1) - D(10) ** -20, D(10) ** -25
    upper = halve(lambda delta: z(delta) + Z, estimate + beside, edge)
    lower = -halve(lambda away: Z - z(-away), -estimate + beside, edge)
    return lower, upper


def wilson(x, n):
    p, zz = D(x) / n, Z * Z
    reach = Z * (p * (1 - p) / n + zz / (4 * n * n)).sqrt()
    return tuple((p + zz / (2 * n) + sign * reach) / (1 + zz / n) for sign in (-1, 1))


def newcombe(x1, n1, x2, n2):
    (l1, u1), (l2, u2) = wilson(x1, n1), wilson(x2, n2)
    p1, p2 = D(x1) / n1, D(x2) / n2
    return (
        p1 - p2 - ((p1 - l1) ** 2 + (u2 - p2) ** 2).sqrt(),
        p1 - p2 + ((u1 - p1) ** 2 + (p2 - l2) ** 2).sqrt(),
    )


def exact_upper(x, n):
    tail = D("0.025")
    below = lambda p: sum(comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(x + 1))
    return D(1) if x == n else halve(lambda p: below(p) - tail, D(0), D(1))


def line(study, endpoint, counts, quantity, *values):
    values = list(values) + [""] * (2 - len(values))
    print(",".join(map(str, [study, endpoint, *counts, quantity, *[v if v == "" else repr(float(v)) for v in values]])))


print("study,endpoint,x1,n1,x2,n2,quantity,lower,upper")
for study, endpoint, *counts in COUNTS:
    x1, n1, x2, n2 = counts
    line(study, endpoint, counts, "miettinen_nurminen", *miettinen_nurminen(*counts))
    line(study, endpoint, counts, "newcombe", *newcombe(*counts))
    line(study, endpoint, counts, "wilson_first", *wilson(x1, n1))
    line(study, endpoint, counts, "wilson_second", *wilson(x2, n2))
    line(study, endpoint, counts, "exact_upper", exact_upper(x1, n1), exact_upper(x2, n2))
    line(study, endpoint, counts, "farrington_manning_z", score(*counts, MARGIN[endpoint], D(1)))
