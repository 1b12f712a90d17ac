"""What following the odds handed out costs: invented truths, records from them, and prices.

A truth is a mixture of sorts of fish, each with a chance of recovery by kind of run, and a ratio by
which the odds change from run to run. From it records are drawn coin by coin; the odds that they
hand out choose how many runs of a list to make at most; and that choice is priced under the truth.

    price of at most n runs = sum over runs made of c + (recovered) r + (lost) (1 + x),
                              and 1, the fallback, where n runs have failed
    regret = (price of the n chosen - least price) / least price, both under the truth, in percent,
             mean over CASES of the cost of a run c and of the work after recovery r

The truths lie on both sides of what the trade plans with, and most are not of the model that is
fitted. Nothing of the engine is used: a list of runs and two loops.

`bound`: who knew the list of truths, but not which holds, and weighed them by Bayes' rule, would
still have a regret: the choice of least expected regret, given the records, with the truths alike
likely beforehand. No rule that has nothing but the records can do better in the mean over the list.

`handed_out` with `alone`: what blending would do. One kind of fish (logits c) and two (logits a, b)
are weighed by their marginal likelihoods (Laplace's approximation), `alone` the chance of one kind
beforehand; a and b then move towards c by the weight of one kind. It costs the other truths what it
gains where fish are of one kind, so the program does not do it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, ndtri

from econ.records import pooling
from econ.records.columns import KINDS as WORDS
from econ.records.outcomes import shares_of_failures
from econ.records.trade import Prior, failures, in_one_table, in_two_tables, usual_weight
from econ.records.two_kinds import Peak, belief, group, one_kind, two_kinds, with_days

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
KINDS = ("overshot", "spear", "wash_then_catch")
LIST = (0, 1, 0, 2, 0, 2)  # kinds of the runs planned
MOST = len(LIST)
FIRST, LATER = (0.60, 0.25, 0.15), (0.35, 0.30, 0.35)  # shares of the kinds in the records
FAILURES = (0.66, 0.14, 0.12, 0.06, 0.02)  # nothing, part, top damaged, string lost, hole lost
STOPPED = 0.12  # chance after a failure that the job is stopped for economics
CASES = [(run, after) for run in (0.05, 0.09, 0.14, 0.22) for after in (0.08, 0.20)]
MORE_IF_LOST = 0.35  # x


@dataclass(frozen=True)
class Truth:
    """Shares of the sorts of fish, shape (sorts,), their chances, shape (sorts, kinds), and the
    ratio of the odds from run to run."""

    shares: Array
    chances: Array
    ratio: float = 1.0

    def by_run(self) -> Array:
        """Chance of recovery, shape (sorts, runs, kinds)."""
        odds = (self.chances / (1 - self.chances))[:, None, :]
        odds = odds * (self.ratio ** np.arange(MOST))[None, :, None]
        return np.asarray(odds / (1 + odds))


def mixture(*sorts: tuple[float, tuple[float, float, float]], ratio: float = 1.0) -> Truth:
    shares, chances = zip(*sorts, strict=True)
    return Truth(np.array(shares), np.array(chances), ratio)


def spread(middle: float, sd: float) -> Truth:
    """Chances whose logits are spread over fish as a normal, by 25 of its quantiles."""
    shift = sd * ndtri((np.arange(25) + 0.5) / 25)[:, None]
    return Truth(np.full(25, 1 / 25), expit(middle + shift + np.array([0.0, -0.2, -0.3])))


TRUTHS = {
    "two kinds": mixture((0.65, (0.62, 0.56, 0.52)), (0.35, (0.05, 0.06, 0.08))),
    "two kinds, easy": mixture((0.85, (0.72, 0.60, 0.55)), (0.15, (0.10, 0.10, 0.08))),
    "two kinds, hard": mixture((0.35, (0.50, 0.40, 0.45)), (0.65, (0.03, 0.03, 0.05))),
    "two kinds, close": mixture((0.50, (0.45, 0.40, 0.35)), (0.50, (0.15, 0.15, 0.12))),
    "two kinds, far": mixture((0.50, (0.80, 0.70, 0.60)), (0.50, (0.02, 0.02, 0.02))),
    "one kind": mixture((1.0, (0.35, 0.35, 0.30))),
    "one kind, hard": mixture((1.0, (0.15, 0.13, 0.12))),
    "one kind, easy": mixture((1.0, (0.55, 0.50, 0.45))),
    "odds that fade": mixture((1.0, (0.50, 0.45, 0.45)), ratio=0.6),
    "three kinds": mixture(
        (0.3, (0.80, 0.75, 0.70)), (0.4, (0.35, 0.30, 0.30)), (0.3, (0.03, 0.03, 0.05))
    ),
    "a spread of difficulty": spread(-0.6, 1.3),
}
ONE_KIND = [name for name in TRUTHS if name.startswith("one kind")]


@dataclass(frozen=True)
class Past:
    """Runs of past jobs, shape (runs,): kind is a place in KINDS, outcome one in FAILURES or -1."""

    job: Ints
    run: Ints  # from 0
    kind: Ints
    outcome: Ints

    @property
    def won(self) -> NDArray[np.bool_]:
        return np.asarray(self.outcome < 0)


def records(rng: np.random.Generator, truth: Truth, jobs: int) -> Past:
    """Records of so many jobs, coin by coin."""
    chance = truth.by_run()
    rows = []
    for job in range(jobs):
        sort = rng.choice(len(truth.shares), p=truth.shares)
        for run in range(MOST):
            kind = rng.choice(3, p=FIRST if run == 0 else LATER)
            won = rng.random() < chance[sort, run, kind]
            outcome = -1 if won else rng.choice(5, p=FAILURES)
            rows.append((job, run, kind, outcome))
            if won or outcome >= 3 or rng.random() < STOPPED:
                break
    return Past(*np.array(rows, dtype=np.int64).T)


def as_table(past: Past) -> str:
    """The same as CSV text that `econ odds` reads."""
    names = ("nothing", "part", "top_damaged", "string_lost", "hole_lost", "recovered")
    rows = zip(past.job, past.run, past.kind, past.outcome, strict=True)
    lines = [f"J{j},{r + 1},{KINDS[k]},{names[o]}" for j, r, k, o in rows]
    return "\n".join(["job,run,kind,outcome", *lines]) + "\n"


@dataclass(frozen=True)
class Odds:
    """What a policy believes: shares of the kinds of fish, shape (fish,); chances to recover and
    to lose string or hole by run of LIST, shape (fish, runs)."""

    shares: Array
    recovered: Array
    lost: Array


def true_odds(truth: Truth) -> Odds:
    chance = truth.by_run()[:, np.arange(MOST), list(LIST)]
    return Odds(truth.shares, chance, (1 - chance) * sum(FAILURES[3:]))


def prices(odds: Odds, run: float, after: float) -> Array:
    """Price of at most 0, 1, ... runs of LIST, in fallbacks made now; shape (runs + 1,)."""
    fishing, paid, found = odds.shares, 0.0, [1.0]
    for number in range(MOST):
        p, lost = odds.recovered[:, number], odds.lost[:, number]
        paid += fishing.sum() * run
        paid += (fishing * p).sum() * after + (fishing * lost).sum() * (1 + MORE_IF_LOST)
        fishing = fishing * (1 - p - lost)
        found.append(paid + fishing.sum())
    return np.array(found)


def regret(truth: Truth, odds: Odds) -> float:
    """Percent of the least price, mean over CASES."""
    real = true_odds(truth)
    found = []
    for case in CASES:
        price = prices(real, *case)
        found.append(price[prices(odds, *case).argmin()] / price.min() - 1)
    return 100 * float(np.mean(found))


def handed_out(past: Past, weight: float | None = None, alone: float = 0.0) -> Odds:
    """The odds by kind of fish that `econ odds` hands out of these records, without intervals and
    checks, which take most of its time; weight: runs that the trade's odds count; alone: blended
    with one kind of fish, which has this chance beforehand."""
    worth = usual_weight() if weight is None else weight
    known, kind = np.unique(past.kind, return_inverse=True)
    words = [KINDS[place] for place in known]
    # In the order in which the program has them, because the prior is laid out by it.
    order = np.argsort([WORDS.index(word) for word in words])
    kind, words = np.argsort(order)[kind], [words[place] for place in order]
    prior = in_two_tables(words, worth)
    cells = group(past.job, kind, past.won, prior)
    peak = two_kinds(cells, one_kind(cells))
    at, size = peak.at, len(words)
    if alone:
        won, made = (np.bincount(kind, each, size) for each in (past.won, np.ones(len(kind))))
        at = _towards_one(peak, prior, won, made, in_one_table(words, worth), alone)
    single = with_days(past.job, kind, past.won, np.zeros(len(kind)), prior)
    workable = belief(single, np.append(at, 0.0))[past.job]
    trade = worth * failures(words)
    chances, losses = [], []
    for share, start in ((workable, 1), (1 - workable, 1 + size)):
        counts = np.zeros((size, 6))
        for place, column in enumerate(
            (1, 0, 3, 4, 5)
        ):  # nothing, part, ... in the program's order
            here = past.outcome == place
            np.add.at(counts[:, column], kind[here], share[here])
        lost = shares_of_failures(counts, trade)[:, 4:].sum(axis=1)
        chance = expit(at[start : start + size])
        # A kind that is not in the records takes the mean of those that are.
        place = [words.index(each) if each in words else -1 for each in KINDS]
        chance, lost = np.append(chance, chance.mean()), np.append(lost, lost.mean())
        chances.append(chance[place][list(LIST)])
        losses.append(lost[place][list(LIST)])
    share = float(expit(at[0]))
    p, lost = np.array(chances), np.array(losses)
    return Odds(np.array([share, 1 - share]), p, (1 - p) * lost)


def _towards_one(
    two: Peak, of_two: Prior, won: Array, made: Array, of_one: Prior, alone: float
) -> Array:
    """The logits of two kinds of fish moved towards those of one by its weight."""
    c = pooling.peak(won, made, of_one)
    bend = of_one.precision + np.diag(made * expit(c) * expit(-c))
    one = pooling.height(won, made, of_one, c) + _laplace(of_one, bend)
    gain = two.height + _laplace(of_two, two.curvature) - one
    weight = expit(np.log(alone / (1 - alone)) - gain)
    return two.at + weight * np.append(0.0, np.tile(c, 2) - two.at[1:])


def _laplace(prior: Prior, curvature: Array) -> float:
    return float(0.5 * (np.linalg.slogdet(prior.precision)[1] - np.linalg.slogdet(curvature)[1]))


def plain_rates(past: Past) -> Odds:
    """The plain rate of each kind of run with a run of each sort added, on one kind of fish."""
    made, won = np.bincount(past.kind, minlength=3), np.bincount(past.kind, past.won, 3)
    p = ((won + 1) / (made + 2))[list(LIST)][None, :]
    return Odds(np.ones(1), p, (1 - p) * sum(FAILURES[3:]))


@cache
def known_regrets() -> dict[str, Array]:
    """Regret of every limit under every truth [percent], shape (cases, runs + 1)."""
    found = {}
    for name, truth in TRUTHS.items():
        price = np.array([prices(true_odds(truth), *case) for case in CASES])
        found[name] = 100 * (price / price.min(axis=1, keepdims=True) - 1)
    return found


def bound(name: str, past: Past) -> float:
    """Regret of who weighs the truths of the list by what the records say of each."""
    logs = np.array([_log_likelihood(truth, past) for truth in TRUTHS.values()])
    weight = np.exp(logs - logs.max())
    believed = sum(w * known_regrets()[each] for w, each in zip(weight, TRUTHS, strict=True))
    chosen = np.argmin(believed, axis=1)[:, None]
    return float(np.take_along_axis(known_regrets()[name], chosen, axis=1).mean())


def _log_likelihood(truth: Truth, past: Past) -> float:
    chance = truth.by_run()[:, past.run, past.kind]
    logs = np.where(past.won, np.log(chance), np.log1p(-chance))
    of_job = np.zeros((past.job[-1] + 1, len(truth.shares)))
    np.add.at(of_job, past.job, logs.T)
    return float(np.log(np.exp(of_job) @ truth.shares).sum())


def draws(name: str, jobs: int, seed: int) -> np.random.Generator:
    """The stream of one set of records."""
    return np.random.default_rng([list(TRUTHS).index(name), jobs, seed])


RULES = ("handed out", "blended 0.1", "blended 0.5", "plain rates", "bound")


def regrets(name: str, jobs: int, sets: int) -> Array:
    """Of each of RULES, on the same records; shape (sets, rules)."""
    truth = TRUTHS[name]
    rows = []
    for seed in range(sets):
        past = records(draws(name, jobs, seed), truth, jobs)
        followed = [handed_out(past, alone=alone) for alone in (0.0, 0.1, 0.5)]
        costs = [regret(truth, odds) for odds in (*followed, plain_rates(past))]
        rows.append([*costs, bound(name, past)])
    return np.array(rows)
