"""Jobs on which every report must say the same: the demonstrations, their logs, and random ones.

A job is the text of a file with a run log, so that the sweep, which reads text, gets the same
words as all others. Everything here is invented.
"""

from __future__ import annotations

import functools
import random
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from supplement_jobs import random_job

from econ.decision import Answer, answer
from econ.scenario import Scenario
from econ.scenario.load import parse
from econ.scenario.run_log import LoggedRun, read_log

Table = dict[str, Any]
FOLDER = Path(__file__).parents[2] / "scenarios"
LOGS = FOLDER / "logs"
N = 16  # draws of each scramble, the same for every reader
COUNT = 30  # random jobs
CERTAIN, NO_RUN = 7, 5  # each so many-th job has a run that is sure to recover, or no run


@dataclass(frozen=True)
class Job:
    """A file as text, what is set in it, and the runs made."""

    text: str
    overrides: tuple[str, ...]
    log: tuple[LoggedRun, ...] = ()

    @functools.cached_property
    def scenario(self) -> Scenario:
        """The scenario of the file."""
        return parse(self.text, self.overrides)

    @functools.cached_property
    def answer(self) -> Answer:
        """Its answer."""
        return answer(self.scenario, self.log)


def demo(path: str, log: str | None = None, *overrides: str) -> Job:
    """A demonstration job with few draws, after the runs of a log."""
    text = (FOLDER / path).read_text(encoding="utf-8")
    job = Job(text, (f"draws.n={N}", *overrides))
    return Job(text, job.overrides, read_log(LOGS / log, job.scenario)) if log else job


def toml(value: Any) -> str:
    """A value as TOML writes it on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f'"{key}" = {toml(item)}' for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date):
        return value.isoformat()
    return f'"{value}"' if isinstance(value, str) else repr(value)


def random_table(seed: int) -> Table:
    """A random job in which, over all seeds, every feature of the model comes up."""
    dice = random.Random(1000 + seed)
    raw = random_job(seed, ranges=seed % 3 == 0)
    runs: list[Table] = raw["run"][:3]
    raw["run"] = runs
    if seed % NO_RUN == 0:
        runs.clear()
    if runs and dice.random() < 0.4:
        raw["fishing"] |= {"odds_ratio_per_day": 0.85, "loss_odds_ratio_per_day": 1.15}
    if runs and dice.random() < 0.4:
        runs[-1]["options"] = ["jars"]
        raw["rental"] = _rentals(dice, len(runs))
    if dice.random() < 0.5:
        raw["limits"] = {
            "authority": dice.uniform(3e5, 2e6),
            "response_hours": dice.choice([0, 24, 48]),
        }
    if runs and dice.random() < 0.3:
        raw.setdefault("limits", {})["minimum_runs"] = dice.randrange(1, len(runs) + 1)
    if seed % 4 == 0:
        for run in runs:
            tables = [run["odds"]] if "nothing" in run["odds"] else run["odds"].values()
            for odds in tables:
                odds["weight"] = dice.uniform(3.0, 30.0)
    for fallback in raw["fallback"]:
        if "plugs" in fallback and dice.random() < 0.4:
            fallback["whipstock"] = {"after": 2, "hours": 30, "cost": 80_000, "failure": 0.2}
    if runs and seed % CERTAIN == 0:
        sure = {"recovered": 1.0}
        kinds = "workable" in runs[-1]["odds"]
        runs[-1]["odds"] = {"workable": sure, "stubborn": sure} if kinds else sure
        for run in runs[:-1]:
            quiet = {"recovered": 0.3, "nothing": 0.7}
            kinds = "workable" in run["odds"]
            run["odds"] = {"workable": quiet, "stubborn": {"nothing": 1.0}} if kinds else quiet
    raw["draws"] = {"n": N, "seed": seed, "scrambles": 16}
    return raw


def _rentals(dice: random.Random, runs: int) -> list[Table]:
    """Contracts: called out at a run, on location already, and left to their run."""
    return [
        {
            "tool": "jars",
            "options": ["jars"],
            "call_out": dice.randrange(0, runs + 1),
            "mobilization": 9_000,
            "minimum_days": dice.choice([0, 6]),
            "day": 1_200,
            "standby_day": 500,
            "redress": 800,
            "replacement": 60_000,
            "delivery": dice.choice([0, 30]),
        },
        {"tool": "pipe", "held_days": 2, "minimum_days": 9, "day": 700, "per_foot": 20},
        {"tool": "spear", "mobilization": 4_000, "minimum_days": 3, "day": 900, "delivery": 9},
    ]


@functools.cache
def random_one(seed: int) -> Job:
    """A random job, some of them after a run."""
    raw = random_table(seed)
    text = "\n".join(f"{key} = {toml(value)}" for key, value in raw.items())
    job = Job(text, ())
    if seed % 3 == 1 and len(job.scenario.run) > 1 and seed % CERTAIN:
        return Job(text, (), (_first_run(job.scenario, raw["job"]["decided_at"]),))
    return job


def _first_run(scenario: Scenario, begun: datetime) -> LoggedRun:
    """The first run made, with the likeliest outcome after which fishing goes on."""
    odds = scenario.run[0].odds_by_kind()[0]
    outcome = max(("nothing", "part", "top_damaged"), key=lambda name: getattr(odds, name))
    if outcome == "part" and scenario.run[0].part_length == 0:
        outcome = "nothing"
    end = begun + timedelta(hours=31)
    return LoggedRun(2, 0, begun, end, outcome, cost=120_000.0)


POINT_D, POINT_B = "point/d_rented_tools.toml", "point/b_offshore_sealed_sources.toml"
A, D = "a_land_twist_off.toml", "d_rented_tools.toml"
NAMES = [
    f"{folder}{path.name}" for folder in ("", "point/") for path in sorted(FOLDER.glob("*.toml"))
]
LOGGED = [(f"{folder}{A}", "a_two_runs.csv") for folder in ("", "point/")]
LOGGED += [(f"{folder}{D}", "d_three_runs.csv") for folder in ("", "point/")]
LOGGED += [(f"point/{A}", f"a_class_job{end}.csv") for end in ("", "_other_end")]
DEMOS: dict[str, Job] = {
    **{name: demo(name) for name in NAMES},
    **{f"{name} after {log}": demo(name, log) for name, log in LOGGED},
    "d, even belief": demo(POINT_D, None, "fishing.workable=0.5"),
    "b, hopeless": demo(POINT_B, None, "fishing.workable=0.05"),
}
