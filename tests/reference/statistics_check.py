"""The statistics of a comparison against scipy.stats, and against definitions written out here.

usage: statistics_check.py STATISTICS-ANSWERS

The questions are seeded at random, with two from the literature whose numbers tests/compare has from memory: their answers are
computed here, so that no check rests on memory.
"""

import os
import subprocess
import sys

from outside import Tally, skip

import numpy as np

try:
    from scipy import optimize, stats
except ImportError:
    skip("scipy is not installed (Debian: apt-get install python3-scipy)")

SEED = 1979


def holm(p):
    """Holm (1979) by the definition: the i-th smallest of m is rejected at every level above the largest of
    (m - j + 1) p_(j), j up to i."""
    p, m = np.asarray(p), len(p)
    adjusted = []
    for one in p:
        smaller = sorted(q for q in p if q <= one)
        adjusted.append(min(1.0, max((m - j) * q for j, q in enumerate(smaller))))
    return adjusted


def wilson(successes, count):
    interval = stats.binomtest(successes, count).proportion_ci(0.95, method="wilson")
    return [successes / count, interval.low, interval.high]


def unseen_limits(raw_over_noise, deviates):
    """Upper limits of a line's amplitude, in standard deviations of one quadrature of the noise, at each one-sided
    deviate, when the power found is that many times the noise's mean: the noncentral chi-square's inverse."""
    return [
        np.sqrt(optimize.brentq(lambda nc: stats.ncx2.cdf(2 * raw_over_noise, 2, nc) - stats.norm.sf(k), 1e-6, 400))
        for k in deviates
    ]


def outlier(values):
    """Grubbs: the farthest from the mean of the others; its p, times the number of values."""
    best = (-1.0, 0)
    for i, value in enumerate(values):
        others = np.delete(values, i)
        best = max(best, (abs(value - others.mean()) / (others.std(ddof=1) * np.sqrt(1 + 1 / len(others))), i))
    return best[1], min(1.0, len(values) * 2 * stats.t.sf(best[0], len(values) - 2))


class Questions:
    def __init__(self):
        self.asked, self.expected = [], []

    def ask(self, words, numbers, expected, relative):
        self.asked.append(" ".join([words] + [repr(float(number)) for number in numbers]))
        self.expected.append((np.atleast_1d(np.asarray(expected, float)), relative))

    def compare(self, program, tally):
        run = subprocess.run([program], input="\n".join(self.asked) + "\n", capture_output=True, text=True, check=True)
        answers = run.stdout.splitlines()
        tally.close("answers", len(answers), len(self.asked), 0)
        worst = {}
        for question, answer, (expected, relative) in zip(self.asked, answers, self.expected):
            found = np.array([float(word) for word in answer.split()])
            kind = question.split()[0]
            apart = np.max(np.abs(found - expected) / (relative * np.maximum(np.abs(expected), 1e-12)))
            count, most = worst.get(kind, (0, 0.0))
            worst[kind] = (count + 1, max(most, float(apart)))
            if not apart <= 1.0:
                print(f"{question}: {found}, expected {expected}")
        for kind, (count, most) in worst.items():
            tally.close(f"{kind}: worst of {count}, in tolerances", most, 0.5, 0.5)


def ask_distributions(questions, rng):
    for _ in range(50):
        z, dof = rng.uniform(0, 9), rng.uniform(1.5, 200)
        questions.ask("t", (z, dof), 2 * stats.t.sf(z, dof), 1e-7)
        ratio, above, below = 10 ** rng.uniform(-0.6, 0.6), rng.uniform(5, 500), rng.uniform(5, 500)
        p = 2 * min(stats.f.cdf(ratio, above, below), stats.f.sf(ratio, above, below))
        questions.ask("f", (ratio, above, below), p, 1e-7)


def ask_families(questions, rng):
    # Benjamini and Hochberg (1995), 4.1: the values as tests/compare/test_statistics.c has them.
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0]
    questions.ask("holm", p, holm(p), 1e-12)
    for _ in range(20):
        p = rng.uniform(size=rng.integers(1, 40)) ** 3
        questions.ask("holm", p, holm(p), 1e-12)


def ask_differences(questions, rng):
    for _ in range(20):
        before, after = rng.normal(0, 1, rng.integers(3, 9)), rng.normal(1, 3, rng.integers(3, 9))
        test = stats.ttest_ind(after, before, equal_var=False)
        vb, va = before.var(ddof=1) / len(before), after.var(ddof=1) / len(after)
        dof = (vb + va) ** 2 / (vb**2 / (len(before) - 1) + va**2 / (len(after) - 1))
        change = after.mean() - before.mean()
        half = stats.t.ppf(0.975, dof) * np.sqrt(vb + va)
        expected = (change, dof, change - half, change + half, test.pvalue)
        questions.ask("welch", (len(before), *before, *after), expected, 1e-6)
    # Newcombe (1998), method 10: the squares of the distances to Wilson's limits added. 56/70 less 48/80 is the example
    # of tests/compare.
    for before, after in [((48, 80), (56, 70))] + [
        ((rng.integers(1, 60), 60), (rng.integers(1, 90), 90)) for _ in range(20)
    ]:
        b, a = wilson(*map(int, before)), wilson(*map(int, after))
        change = a[0] - b[0]
        low = change - np.hypot(a[0] - a[1], b[2] - b[0])
        high = change + np.hypot(a[2] - a[0], b[0] - b[1])
        questions.ask("mover", (*b, *a), (low, high), 1e-9)


def ask_outliers(questions, rng):
    for _ in range(20):
        values = rng.normal(5, 1, rng.integers(4, 8))  # one look: a quarter of fewer than eight is one
        values[rng.integers(len(values))] += rng.choice([0.0, 6.0, 30.0])
        questions.ask("outlier", values, outlier(values), 1e-6)


def check_unseen(program, tally):
    """The rule for a line over nothing must never call more than the exact limits allow: a line that lies at the exact
    limit of deviate k has at least the p of k."""
    asked, least = [], []
    deviates = (1.959963984540054, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0)
    for raw in (1.0, 1.5, 2.0, 4.0, 8.0, 13.0):
        limits = unseen_limits(raw, deviates)
        for k, limit in zip(deviates[1:], limits[1:]):
            asked.append(f"unseen {limit!r} {limits[0]!r}")
            least.append(2 * stats.norm.sf(k))
    run = subprocess.run([program], input="\n".join(asked) + "\n", capture_output=True, text=True, check=True)
    ratios = np.array([float(line) for line in run.stdout.split()]) / np.array(least)
    tally.close("unseen: answers", len(ratios), len(asked), 0)
    print(f"       unseen: p over the exact one from {ratios.min():.6g} to {ratios.max():.6g}")
    tally.close("unseen: never below the exact p", float(ratios.min() >= 1.0), 1.0, 0.0)
    # Where the power found is the mean of the noise, as it mostly is, the rule is only a little too cautious.
    tally.close("unseen: p in noise alone over the exact one, k = 3", ratios[1], 1.5, 0.5)


def main():
    program = os.path.abspath(sys.argv[1])
    rng, questions, tally = np.random.default_rng(SEED), Questions(), Tally()
    print(f"seed {SEED}")
    ask_distributions(questions, rng)
    ask_families(questions, rng)
    ask_differences(questions, rng)
    ask_outliers(questions, rng)
    questions.compare(program, tally)
    check_unseen(program, tally)
    tally.end()


main()
