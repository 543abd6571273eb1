"""The same work with NumPy, SciPy, statsmodels and lifelines.

peers.py PEER ROW FOLDER REPETITIONS prints the seconds of every repetition, the peak
memory of the process in KiB and the result. Reading the data is not timed.
"""

import sys
import time
import warnings

import numpy as np

warnings.simplefilter("ignore")
LEVEL_TAIL = 0.025


def columns(folder, name):
    table = np.loadtxt(f"{folder}/{name}.csv", delimiter=",", skiprows=1)
    return [np.ascontiguousarray(table[:, i]) for i in range(table.shape[1])]


def score_interval_statsmodels(folder):
    from statsmodels.stats.proportion import confint_proportions_2indep as interval

    rows = np.column_stack(columns(folder, "score_tables")).astype(int)

    def work():
        total = 0.0
        for x1, n1, x2, n2 in rows:
            try:
                total += sum(interval(x1, n1, x2, n2, method="score", compare="diff"))
            except Exception:  # some tables with a zero cell
                continue
        return total

    return work


def exact(folder, test):
    rows = np.column_stack(columns(folder, "exact_tables")).astype(int)

    def work():
        return sum(test([[x1, x2], [n1 - x1, n2 - x2]]).pvalue for x1, n1, x2, n2 in rows)

    return work


def barnard_scipy(folder):
    from scipy.stats import barnard_exact

    return exact(folder, barnard_exact)


def boschloo_scipy(folder):
    from scipy.stats import boschloo_exact

    return exact(folder, boschloo_exact)


def kaplan_meier_statsmodels(folder):
    from statsmodels.duration.survfunc import SurvfuncRight

    days, event, _ = columns(folder, "follow_up")

    def work():
        curve = SurvfuncRight(days, event)
        place = np.searchsorted(curve.surv_times, 365, side="right") - 1
        s, se = curve.surv_prob[place], curve.surv_prob_se[place]
        return s ** np.exp(-1.959963984540054 * (se / s) / np.log(s))

    return work


def kaplan_meier_lifelines(folder):
    from lifelines import KaplanMeierFitter

    days, event, _ = columns(folder, "follow_up")

    def work():
        fit = KaplanMeierFitter().fit(days, event)
        limits = fit.confidence_interval_survival_function_
        return float(limits.iloc[limits.index.searchsorted(365, side="right") - 1, 0])

    return work


def log_rank_statsmodels(folder):
    from statsmodels.duration.survfunc import survdiff

    days, event, group = columns(folder, "follow_up")
    return lambda: float(survdiff(days, event, group)[0])


def log_rank_lifelines(folder):
    from lifelines.statistics import logrank_test

    days, event, group = columns(folder, "follow_up")
    first = group == 1
    a, b, c, d = days[first], days[~first], event[first], event[~first]
    return lambda: float(logrank_test(a, b, c, d).test_statistic)


def rank_sum_scipy(folder):
    from scipy.stats import mannwhitneyu

    first, second = columns(folder, "rank")
    return lambda: float(mannwhitneyu(first, second, method="asymptotic", use_continuity=False).statistic)


def bootstrap_numpy(folder):
    first, second = columns(folder, "bootstrap")

    def work():
        generator = np.random.default_rng(1)
        a, b = np.log(first), np.log(second)

        def means(values):
            found = np.empty(10_000)
            for place in range(0, 10_000, 100):
                at = generator.integers(0, len(values), size=(100, len(values)), dtype=np.uint16)
                found[place : place + 100] = values[at].mean(axis=1)
            return found

        return float(np.quantile(np.exp(means(a) - means(b)), 1 - LEVEL_TAIL))

    return work


def bootstrap_scipy(folder, method):
    from scipy.stats import bootstrap

    first, second = columns(folder, "bootstrap")

    def work():
        a, b = np.log(first), np.log(second)

        def statistic(x, y, axis=-1):
            return np.mean(x, axis=axis) - np.mean(y, axis=axis)

        found = bootstrap(
            (a, b), statistic, n_resamples=10_000, batch=100, method=method, rng=np.random.default_rng(1)
        )
        return float(np.exp(found.confidence_interval.high))

    return work


def regression(folder):
    table = np.fromfile(f"{folder}/regression.bin").reshape(12, -1)
    design = np.column_stack([np.ones(table.shape[1]), *table[2:]])
    return table[0], design, table[1].astype(int)


def clustered_fit(y, design, centre):
    import statsmodels.api as sm

    return sm.Logit(y, design).fit(disp=0, cov_type="cluster", cov_kwds={"groups": centre})


def logistic_statsmodels(folder):
    y, design, centre = regression(folder)
    return lambda: clustered_fit(y, design, centre).bse[1]


def standardised_statsmodels(folder):
    y, design, centre = regression(folder)

    def work():
        fit = clustered_fit(y, design, centre)
        gradient = 0.0
        for arm, sign in ((1.0, 1.0), (0.0, -1.0)):
            set_to = design.copy()
            set_to[:, 1] = arm
            p = fit.predict(set_to)
            gradient = gradient + sign * (p * (1 - p)) @ set_to / len(p)
        return float(np.sqrt(gradient @ fit.cov_params() @ gradient))

    return work


WORK = {
    ("statsmodels", "logistic"): logistic_statsmodels,
    ("statsmodels", "standardised"): standardised_statsmodels,
    ("statsmodels", "score_interval"): score_interval_statsmodels,
    ("scipy", "barnard"): barnard_scipy,
    ("scipy", "boschloo"): boschloo_scipy,
    ("statsmodels", "kaplan_meier"): kaplan_meier_statsmodels,
    ("lifelines", "kaplan_meier"): kaplan_meier_lifelines,
    ("statsmodels", "log_rank"): log_rank_statsmodels,
    ("lifelines", "log_rank"): log_rank_lifelines,
    ("scipy", "rank_sum"): rank_sum_scipy,
    ("numpy", "percentile"): bootstrap_numpy,
    ("scipy", "percentile"): lambda folder: bootstrap_scipy(folder, "percentile"),
    ("scipy", "bca"): lambda folder: bootstrap_scipy(folder, "BCa"),
}


def peak_kib():
    with open("/proc/self/status") as status:
        return next(line.split()[1] for line in status if line.startswith("VmHWM"))


def main():
    if sys.argv[1] == "rows":
        print("\n".join(" ".join(key) for key in WORK))
        return
    peer, row, folder, repetitions = sys.argv[1:]
    work = WORK[peer, row](folder)
    seconds = []
    for _ in range(int(repetitions)):
        start = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - start)
        if sum(seconds) > 30:
            break
    print(",".join(f"{s:.6f}" for s in seconds), peak_kib(), result)


main()
