"""The table of checks on the page of the method, measured.

python tests/notebooks/method_checks.py    measures anew and writes the table into the page

Every row sets the program against something that shares no code with it, and keeps the worst
deviation of all its cases. Seeds are fixed. A deviation is written rounded up to one figure, so
that the last digits of another machine do not change the page; what is under 1e-9 of the number is
rounding.
"""

from __future__ import annotations

import copy
import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import stats
from scipy.stats import qmc
from statsmodels.stats.proportion import proportion_confint

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from raw_jobs import (  # noqa: E402
    DEMO_A,
    RUN_BY_RUN,
    SCENARIO_A,
    lump_job,
    read,
    scenario,
    walked,
    without_sampled_outcomes,
)
from reference import coin_flip, full_plan, outcome_tree  # noqa: E402
from reference.random_plans import random_plan  # noqa: E402

import econ  # noqa: E402
from econ.decision.class_model import class_model  # noqa: E402
from econ.decision.rules_of_thumb import time_limit_days  # noqa: E402
from econ.sampling.sobol import BITS, HALF_CELL, Points  # noqa: E402
from econ.scenario.distributions import Beta, Distribution, Normal, Pert, Triangle  # noqa: E402

PAGE = ROOT / "notebooks" / "guide" / "method.md"
BEGIN, END = "<!-- measured: begin -->\n", "<!-- measured: end -->\n"
ROUNDING = 1e-9
TRIALS = 100_000


@dataclass(frozen=True)
class Check:
    """A row of the table: what, against what, where that is from, how many cases, the worst
    deviation, its unit."""

    what: str
    against: str
    origin: str
    cases: int
    worst: float
    unit: str

    def row(self) -> str:
        """As a line of the table."""
        worst = "under 1e-9" if self.worst < ROUNDING else rounded_up(self.worst)
        cells = (self.what, self.against, self.origin, str(self.cases), worst, self.unit)
        return f"| {' | '.join(cells)} |"


def rounded_up(value: float) -> str:
    """A number rounded up to one figure.

    >>> rounded_up(0.0123), rounded_up(0.95), rounded_up(2.0), rounded_up(31.4)
    ('0.02', '1', '2', '40')
    """
    if value <= 0:
        return "0"
    place = math.floor(math.log10(value))
    figure = math.ceil(round(value / 10.0**place, 9))
    if figure == 10:
        figure, place = 1, place + 1
    return f"{figure * 10.0**place:.{max(0, -place)}f}"


def share(pairs: Sequence[tuple[float, float]]) -> float:
    """The worst deviation of some numbers from those expected, as a share of these."""
    return max(abs(one - other) / abs(other) for one, other in pairs)


def apart(pairs: Sequence[tuple[float, float]]) -> float:
    """The worst deviation itself."""
    return max(abs(one - other) for one, other in pairs)


# ---- the rows ---------------------------------------------------------------------------------


def limits_without_sampling() -> Check:
    """Curves that are exact against the enumerated tree."""
    odds = [{"recovered": p, "nothing": 0.9 - p, "hole_lost": 0.1} for p in (0.5, 0.3, 0.2)]
    damage = copy.deepcopy(read(SCENARIO_A))
    damage["fishing"].update(damaged_top_factor=0.35, odds_ratio_per_day=0.8)
    pairs = []
    for raw in (read(SCENARIO_A), damage, lump_job(*odds)):
        plain = without_sampled_outcomes(raw)
        found = walked(plain, n=16, distributions=False)
        for n, cost in enumerate(found.cost.mean(axis=0)):
            pairs.append((float(cost), outcome_tree.limit(plain, limit_runs=n).expected_cost))
    return Check(
        "expected cost by limit, nothing sampled",
        "outcome tree, every branch in plain numbers",
        "independent",
        len(pairs),
        share(pairs),
        "share",
    )


def limits_sampled() -> Check:
    """Curves of scenario A against the enumerated tree, in errors of the program."""
    raw = read(SCENARIO_A)
    found = walked(raw, n=1024, distributions=False)
    worst = []
    for n in range(found.cost.shape[1]):
        goal = outcome_tree.limit(raw, limit_runs=n).expected_cost
        values = found.cost[:, n]
        error = float(values.std(ddof=1)) / len(values) ** 0.5
        off = abs(float(values.mean()) - goal)
        worst.append(off / error if error > ROUNDING * goal else 0.0)
    return Check(
        "expected cost by limit, parts and damage sampled",
        "the same tree",
        "independent",
        len(worst),
        max(worst),
        "standard errors",
    )


def coin_flips() -> tuple[Check, Check]:
    """Mean and P90 with ranges against plain coin flips."""
    raw = read(DEMO_A)
    del raw["correlation"]
    rows = econ.answer(scenario(raw, n=256)).by_runs
    means, ninth = [], []
    for n in (0, 3):
        rng = np.random.default_rng(1_000 + n)
        cost = coin_flip.simulate(copy.deepcopy(raw), n=TRIALS, rng=rng, limit_runs=n).total_cost
        error = float(cost.std(ddof=1)) / TRIALS**0.5
        off = abs(rows[n].expected_cost - float(cost.mean()))
        means.append(off / float(np.hypot(error, rows[n].standard_error)))
        step = (0.9 * 0.1 / TRIALS) ** 0.5
        low, middle, high = np.quantile(cost, [0.9 - step, 0.9, 0.9 + step])
        own = float(np.hypot(0.5 * (high - low), rows[n].p90_error))
        ninth.append(abs(rows[n].p90 - float(middle)) / own)
    against = f"coin flips, {TRIALS:,} jobs one by one"
    return (
        Check(
            "expected cost, with ranges", against, "independent", 2, max(means), "standard errors"
        ),
        Check("P90, with ranges", against, "independent", 2, max(ninth), "standard errors"),
    )


def printed_curve() -> Check:
    """Scenario A against the printed steps of its notes."""
    printed = [713_532, 526_671, 507_282, 499_510, 532_912, 569_682]
    rows = econ.answer(scenario(read(SCENARIO_A), n=2048)).by_runs
    pairs = [(row.expected_cost, goal) for row, goal in zip(rows, printed, strict=True)]
    return Check(
        "cost curve of scenario A",
        "its printed notes",
        "published with it",
        6,
        share(pairs),
        "share",
    )


def plans() -> Check:
    """Plans of random jobs against every history."""
    pairs = []
    for seed in range(12):
        raw = random_plan(np.random.default_rng(seed))
        job = econ.Scenario.model_validate(
            {**raw, "draws": {"n": 16, "scrambles": 16, "seed": 1}}, by_alias=True, by_name=False
        )
        goal = full_plan.plan(raw, told=False).value.cost
        pairs.append((econ.plan(job).expected_cost.value, goal))
    return Check(
        "plan, runs in any order, random jobs",
        "every history, none merged",
        "independent",
        len(pairs),
        share(pairs),
        "share",
    )


def rules() -> Check:
    """The rule by state as a class plays it, against every history."""
    import tomllib

    short = copy.deepcopy(read(SCENARIO_A))
    short["run"] = short["run"][:3]
    pairs = []
    for raw in (tomllib.loads(RUN_BY_RUN), short):
        found = class_model(scenario(raw, n=16))
        pairs.append((found.states[found.start].by_list, full_plan.list_rule(raw).cost))
    return Check("rule by state", "every history", "independent", len(pairs), share(pairs), "share")


def textbooks() -> Check:
    """Decision problems of textbooks: what knowing is worth, and a certainty equivalent."""
    cost, c = np.array([150.0, 300.0, 500.0]), np.array([0.2, 0.6, 0.2])
    value, v = np.array([0.0, 700.0, 1200.0]), np.array([0.5, 0.3, 0.2])
    leave = [0.0, 0.0, 0.0]
    drill, known = c @ cost - value, cost - v @ value
    net = [
        (b - a, p * q) for b, p in zip(value, v, strict=True) for a, q in zip(cost, c, strict=True)
    ]
    sounding = [[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]]
    wet, test = [0.4, 0.6], [[0.75, 0.25], [1 / 3, 2 / 3]]
    wild = [[-600.0, 200.0], [0.0, 0.0]]
    sell = [[-700.0, 100.0], [-90.0, -90.0]]
    sure = econ.certainty_equivalent(
        values=[each for each, _ in net], chances=[p for _, p in net], risk_tolerance=700.0
    )
    pairs = [
        (econ.evpi(prior=v, cost=[drill, leave]), 155.0),
        (econ.evpi(prior=c, cost=[known, leave]), 10.0),
        (econ.evsi(prior=v, cost=[drill, leave], likelihood=sounding), 40.1),
        (sure, -13.58),
        (econ.evpi(prior=wet, cost=wild), 120.0),
        (econ.evsi(prior=wet, cost=wild, likelihood=test), 20.0),
        (econ.evpi(prior=[0.25, 0.75], cost=sell), 142.5),
    ]
    return Check(
        "worth of knowing, certainty equivalent",
        "three textbook cases, as printed",
        "published",
        len(pairs),
        share(pairs),
        "share (printed digits)",
    )


def break_even_chart() -> Check:
    """The chart of the old drilling text."""
    days = time_limit_days(fish_and_sidetrack=20 * 2_500.0 + 40_000.0, daily_cost=6_000.0)
    return Check(
        "time limit", "break-even chart of an old text", "published", 1, abs(days - 15.0), "days"
    )


def intervals() -> Check:
    """Wilson intervals against a statistics library, and 14 of 17 in print."""
    pairs = []
    for k, n in ((0, 5), (5, 5), (14, 17), (3, 40), (9, 11), (2, 8)):
        ours, theirs = (
            econ.wilson_interval(successes=k, cases=n),
            proportion_confint(k, n, method="wilson"),
        )
        pairs += list(zip(ours, theirs, strict=True))
    return Check(
        "interval of a share of past runs",
        "a statistics library",
        "independent",
        len(pairs),
        apart(pairs),
        "chance",
    )


def quantiles() -> Check:
    """Quantile functions against SciPy's."""
    at = np.linspace(0.001, 0.999, 999)
    cases: list[tuple[Distribution, Callable[..., np.ndarray], float]] = [
        (Pert(low=2, likely=3, high=10), stats.beta(1.5, 4.5, 2, 8).ppf, 8),
        (Triangle(low=2, likely=3, high=10, shape="triangle"), stats.triang(1 / 8, 2, 8).ppf, 8),
        (Normal(mean=8, sd=2), stats.norm(8, 2).ppf, 2),
        (Beta(mean=0.3, weight=10), stats.beta(3, 7).ppf, 1),
        (Beta(mean=0.05, weight=4), stats.beta(0.2, 3.8).ppf, 1),
    ]
    worst = max(
        float(np.abs(ours.quantile(at) - theirs(at)).max()) / spread
        for ours, theirs, spread in cases
    )
    return Check(
        "quantiles of ranges and odds",
        "SciPy's distributions",
        "independent",
        len(cases) * at.size,
        worst,
        "of the spread",
    )


def points() -> Check:
    """Sobol points against SciPy's, bit by bit."""
    parents = [np.random.SeedSequence(12, spawn_key=(number,)) for number in range(4)]
    ours = Points(40, [each.spawn(1)[0] for each in parents]).block(0, 256)
    again = [np.random.SeedSequence(12, spawn_key=(number,)) for number in range(4)]
    theirs = [
        qmc.Sobol(40, bits=BITS, scramble=True, rng=np.random.default_rng(each)).random(256)
        for each in again
    ]
    both = np.abs(ours - (np.concatenate(theirs).T + HALF_CELL))
    return Check(
        "scrambled Sobol points",
        "SciPy's points",
        "independent",
        both.size,
        float(both.max()),
        "of the unit interval",
    )


def class_regrets() -> Check:
    """Regrets of the class page against the lessons of the same log."""
    folder = ROOT / "scenarios"
    job = econ.load(folder / "point" / "a_land_twist_off.toml", ["draws.n=16"])
    job = job.model_copy(update={"reading": []})
    log = econ.read_log(folder / "logs" / "a_class_job.csv", job)
    found, learned = class_model(job, [("one", log)]), econ.lessons(job, log)
    pairs = []
    for step, row in zip(found.logs[0].steps, learned.runs, strict=True):
        here = found.states[step.before]
        done = {option.run: option.by_plan for option in here.options}[step.run]
        assert row.regret is not None
        pairs.append((done - here.plan, row.regret.value))
    return Check(
        "regret of a run on the class page",
        "`econ lessons`, by another way",
        "the program itself",
        len(pairs),
        apart(pairs) / found.states[found.start].stop,
        "of the cost to stop",
    )


def measured() -> list[Check]:
    """All rows, measured now."""
    return [
        printed_curve(),
        limits_without_sampling(),
        limits_sampled(),
        *coin_flips(),
        plans(),
        rules(),
        textbooks(),
        break_even_chart(),
        intervals(),
        quantiles(),
        points(),
        class_regrets(),
    ]


def table(checks: Sequence[Check]) -> str:
    """The table in Markdown."""
    head = "| what | against | origin | cases | worst deviation | in |\n|---|---|---|---|---|---|\n"
    return head + "\n".join(check.row() for check in checks) + "\n"


def written(page: str, checks: Sequence[Check]) -> str:
    """The page with the table in its place."""
    before, rest = page.split(BEGIN)
    return before + BEGIN + table(checks) + END + rest.split(END)[1]


if __name__ == "__main__":
    PAGE.write_text(written(PAGE.read_text(encoding="utf-8"), measured()), encoding="utf-8")
