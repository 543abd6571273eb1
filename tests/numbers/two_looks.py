"""Writes two_looks.csv: python3 two_looks.py > two_looks.csv

Boundaries of plans with two looks by mpmath's own quadrature, where a look comes very early or very
late or spends next to nothing. The rates of both looks are rounded to doubles first.
"""
from mpmath import erfc, exp, findroot, log, mp, mpf, pi, quad, sqrt

mp.dps = 30


def above(z):
    return erfc(z / sqrt(2)) / 2


def quantile(p):
    guess = sqrt(-2 * log(p)) if p < 0.01 else mpf(1)
    return findroot(lambda z: log(above(z)) - log(p), guess)


def second(t1, t2, c1, spent, sides):
    """The c2 with P(going on at the first look, Z2 >= c2) = spent."""
    step = sqrt(t2 - t1)

    def exit_log(c2):
        edge = c2 * sqrt(t2)
        # The integrand peaks near the place from which the second boundary is met most often.
        peak, width = c2 * sqrt(t1 / t2), sqrt(1 - t1 / t2)
        low = -c1 if sides == 2 else -mpf(40)
        marks = sorted({max(low, min(c1, peak + k * width)) for k in range(-12, 13)} | {low, c1} |
                       {max(low, min(c1, mpf(k) / 2)) for k in range(-80, 81)})
        value = quad(lambda z: exp(-z * z / 2) / sqrt(2 * pi) * above((edge - z * sqrt(t1)) / step), marks)
        return log(value)

    low, high = quantile(spent) - mpf(3), quantile(spent) + mpf("1e-9")
    return findroot(lambda c: exit_log(c) - log(spent), (low, high), solver="anderson", tol=1e-24)


print("sides,t1,t2,spent1,spent2,boundary1,boundary2")
for t1, t2 in [(0.001, 0.002), (0.001, 1.0), (0.02, 0.05), (0.1, 0.15), (0.3, 0.9), (0.5, 1.0), (0.999, 1.0)]:
    for spent1, spent2 in [(1e-100, 1e-60), (1e-30, 0.025), (1e-12, 1e-9), (0.001, 0.025), (0.024, 0.025), (0.1, 0.25)]:
        for sides in (1, 2):
            c1 = quantile(mpf(spent1))
            c2 = second(mpf(t1), mpf(t2), c1, mpf(spent2) - mpf(spent1), sides)
            print(f"{sides},{t1!r},{t2!r},{spent1!r},{spent2!r},{mp.nstr(c1, 18)},{mp.nstr(c2, 18)}", flush=True)
