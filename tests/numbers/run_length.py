"""Writes run_length.csv: python3 run_length.py > run_length.csv

Two routes, neither of which is the one under test.
lattice: where the two steps of a chart are whole multiples of one unit, its heights are a finite Markov
chain; the average run length is a dense linear solve, the probability of a signal a repeated product.
simulation: charts drawn case by case with a fixed seed; the errors are standard errors of the mean.
"""
from math import log, sqrt

import numpy as np

print("route,expected,odds_ratio,threshold,actual,cases,average,average_error,within,within_error")


def probability(expected, actual):
    odds = actual * expected / (1 - expected)
    return odds / (1 + odds)


def lattice(ratio, event_units, other_units, states, actual, cases):
    """The event moves the chart by event_units, no event by other_units the other way."""
    units = event_units + other_units
    # 1 - p + R p = R ** (share of the step without the event)
    expected = (ratio ** (other_units / units) - 1) / (ratio - 1)
    unit = abs(log(ratio)) / units
    p = probability(expected, actual)
    up, down, rise = (event_units, other_units, p) if ratio > 1 else (other_units, event_units, 1 - p)
    chain = np.zeros((states, states))
    for state in range(states):
        chain[state, max(0, state - down)] += 1 - rise
        if state + up < states:
            chain[state, state + up] += rise
    average = np.linalg.solve(np.eye(states) - chain, np.ones(states))[0]
    going = np.zeros(states)
    going[0] = 1
    for _ in range(cases):
        going = going @ chain
    threshold = (states - 0.5) * unit
    print(f"lattice,{expected!r},{ratio!r},{threshold!r},{actual!r},{cases},{float(average)!r},0,{float(1 - going.sum())!r},0")


for ratio, event_units, other_units in [(2.0, 100, 1), (2.0, 37, 2), (1.5, 13, 3), (3.0, 5, 7), (0.5, 100, 1), (0.5, 20, 3),
                                        (0.6, 7, 5)]:
    units = event_units + other_units
    for height in (0.9, 2.2, 3.7):
        states = int(height / abs(log(ratio)) * units)
        for actual in (1.0, ratio, 0.8, 1.3):
            lattice(ratio, event_units, other_units, states, actual, 500)

generator = np.random.default_rng(20261125)
CHARTS = 40_000


def simulation(expected, ratio, threshold, actual, cases):
    event = log(ratio / (1 - expected + ratio * expected))
    other = log(1 / (1 - expected + ratio * expected))
    p = probability(expected, actual)
    height, lengths, case = np.zeros(CHARTS), [], 0
    while height.size:
        case += 1
        happened = generator.random(height.size) < p
        height = np.maximum(0, height + np.where(happened, event, other))
        signal = height >= threshold
        lengths += [case] * int(signal.sum())
        height = height[~signal]
    lengths = np.array(lengths)
    within = (lengths <= cases).mean()
    print(f"simulation,{expected!r},{ratio!r},{threshold!r},{actual!r},{cases},{float(lengths.mean())!r},"
          f"{float(lengths.std() / sqrt(CHARTS))!r},{float(within)!r},{float(sqrt(within * (1 - within) / CHARTS))!r}")


for expected, ratio, threshold in [(0.015, 2.0, 2.5), (0.06, 2.0, 3.0), (0.06, 0.5, 2.0), (0.3, 1.5, 2.0), (0.015, 3.0, 1.7)]:
    for actual in (1.0, ratio):
        simulation(expected, ratio, threshold, actual, 400)
