"""Writes distributions.csv with 50-digit arithmetic: python3 distributions.py > distributions.csv"""
from mpmath import erfc, erfinv, exp, findroot, gammainc, log, loggamma, mp, mpf, sqrt

mp.dps = 50


def tail(a, b, x):
    """Lower tail of the beta distribution, from a series without cancellation."""
    a, b, x = mpf(a), mpf(b), mpf(x)
    # I_x = x^a (1-x)^b / (a B) * 2F1(a+b, 1; a+1; x): all terms positive.
    term, total, k = mpf(1), mpf(1), 0
    while term > total * mpf(10) ** (5 - mp.dps):
        term *= (a + b + k) / (a + 1 + k) * x
        total += term
        k += 1
    front = exp(a * log(x) + b * log(1 - x) + loggamma(a + b) - loggamma(a + 1) - loggamma(b))
    return front * total


def lower(a, b, x):
    """Lower tail from the faster series; fifty digits make 1 minus the other tail harmless."""
    return tail(a, b, x) if x < 0.5 else 1 - tail(b, a, 1 - mpf(x))


def quantile(a, b, p, upper=False):
    low, high = mpf(-60), mpf(60)
    target = log(mpf(p))
    for _ in range(80):
        t = (low + high) / 2
        x = 1 / (1 + exp(-t))
        value = lower(a, b, x)
        if upper:
            value = 1 - value
        above = value <= 0 or log(value) < target
        if above != upper:
            low = t
        else:
            high = t
    return 1 / (1 + exp(-(low + high) / 2))


def row(function, a, b, at, value):
    print(f"{function},{a!r},{b!r},{at!r},{mp.nstr(value, 20)}")


print("function,a,b,at,value")
for z in [-8.5, -3.0, -1.0, 0.0, 0.1, 1.0, 1.96, 3.0, 5.0, 8.0, 12.0, 20.0, 37.0]:
    row("normal_upper_tail", 0.0, 0.0, z, erfc(mpf(z) / sqrt(2)) / 2)
    row("normal_lower_tail", 0.0, 0.0, z, erfc(-mpf(z) / sqrt(2)) / 2)
for p in [0.49, 0.25, 0.1, 0.05, 0.025, 0.01, 0.005, 0.0005, 1e-6, 1e-12, 1e-30, 1e-100, 0.75, 0.999]:
    row("normal_upper_quantile", 0.0, 0.0, p, sqrt(2) * erfinv(1 - 2 * mpf(p)) if p > 1e-20
        else findroot(lambda z: log(erfc(z / sqrt(2)) / 2) - log(mpf(p)), sqrt(-2 * log(mpf(p))) - 1))
SHAPES = [(0.5, 0.5), (1.0, 20.0), (3.0, 8.0), (0.5, 100.0), (81.0, 183.0), (2.0, 9999.0), (500.5, 500.5),
          (99990.0, 11.0), (1.0, 1000000.0), (500000.0, 500001.0), (3000.0, 997001.0)]
for a, b in SHAPES:
    mean, sd = a / (a + b), (a * b / (a + b + 1)) ** 0.5 / (a + b)
    for k in [-6.0, -3.0, -1.0, 1.0, 3.0, 6.0]:
        x = mean + k * sd
        if not 1e-9 < x < 1 - 1e-9:
            continue
        low = lower(a, b, x)
        row("beta_lower_tail", a, b, x, low)
        row("beta_upper_tail", a, b, x, 1 - low)
    for p in [0.1, 0.025, 0.0005]:
        if a + b < 1000:
            row("beta_quantile", a, b, p, quantile(a, b, p))
            row("beta_upper_quantile", a, b, p, quantile(a, b, p, upper=True))
for df in [1.0, 1.3, 2.0, 5.5, 14.342783, 30.0, 250.7, 4000.0]:
    for t in [0.001, 0.5, 2.0, 6.0, 25.0]:
        with mp.workdps(200):  # the smallest of these tails is 1e-128
            p = lower(df / 2, 0.5, mpf(df) / (df + mpf(t) ** 2))
        row("student_two_sided_p", df, 0.0, t, p)
    for p in [0.1, 0.025, 0.0005]:
        x = quantile(0.5, df / 2, 2 * mpf(p), upper=True)
        row("student_upper_quantile", df, 0.0, p, sqrt(df * x / (1 - x)))
for df in [1.0, 2.0, 3.0, 7.0, 12.0, 49.0, 300.0]:
    for x in [0.01, 0.8, 3.84, 20.0, 90.0, 400.0]:
        row("chi_square_upper_tail", df, 0.0, x, gammainc(mpf(df) / 2, mpf(x) / 2, regularized=True))


def gamma_lower(a, x):
    """Lower tail of the gamma distribution, from a series whose terms are all positive."""
    a, x = mpf(a), mpf(x)
    term, total, k = mpf(1), mpf(1), 0
    while term > total * mpf(10) ** (5 - mp.dps):
        k += 1
        term *= x / (a + k)
        total += term
    return exp(a * log(x) - x - loggamma(a + 1)) * total


for a in [1.0, 2.0, 7.0, 15.0, 16.0, 40.0, 633.0, 1137.0, 20000.0, 1000000.0]:
    for k in [-6.0, -3.0, -1.0, 0.0, 1.0, 3.0, 6.0, 9.0]:
        x = a + k * a ** 0.5
        if x > 0:
            low = gamma_lower(a, x)
            row("gamma_lower_tail", a, 0.0, x, low)
            row("gamma_upper_tail", a, 0.0, x, 1 - low)
