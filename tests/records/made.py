"""Records invented for tests, of known truth, and tables written by hand."""

from __future__ import annotations

import importlib.util
import itertools
from pathlib import Path
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from econ.records import Records, parse_records
from econ.records.columns import KINDS
from econ.records.trade import in_two_tables
from econ.records.two_kinds import Cells, group

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "scenarios" / "records" / "invented_jobs.csv"
Array = NDArray[np.float64]
PRIOR = in_two_tables(("overshot", "spear"), 5.0)  # of two kinds of run, as odds are handed out


def demo_script() -> ModuleType:
    """The script beside the demo set."""
    place = DEMO.with_name("invent.py")
    spec = importlib.util.spec_from_file_location("invent", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def table(*rows: str, columns: str = "job,run,kind,outcome") -> Records:
    return parse_records("\n".join([columns, *rows]))


def jobs(*outcomes: str, kind: str = "overshot") -> Records:
    """One job a word: its letters are the outcomes of its runs, n for nothing, r recovered."""
    words = {"n": "nothing", "r": "recovered", "p": "part", "s": "string_lost", "h": "hole_lost"}
    return table(
        *(
            f"J{number},{run},{kind},{words[letter]}"
            for number, letters in enumerate(outcomes)
            for run, letter in enumerate(letters, start=1)
        )
    )


def simulated(
    rng: np.random.Generator,
    *,
    jobs: int,
    share: float,
    good: Array,
    bad: Array,
    most: int = 6,
    stop: float = 0.12,
) -> Cells:
    """Jobs of two kinds of fish, coin by coin; two kinds of run, at random."""
    job, kind, won = [], [], []
    for number in range(jobs):
        odds = good if rng.random() < share else bad
        for _ in range(most):
            each = int(rng.integers(len(good)))
            came = bool(rng.random() < odds[each])
            job.append(number)
            kind.append(each)
            won.append(came)
            if came or rng.random() < stop:
                break
    return group(np.array(job), np.array(kind), np.array(won), PRIOR)


def many_rows(count: int) -> str:
    """A table of about `count` rows with all columns, quick to make."""
    rng = np.random.default_rng(11)
    lines = ["job,run,kind,outcome,mechanism,hole_size,angle,depth,start,hours,stated_odds,remark"]
    for number in itertools.count():
        if len(lines) > count:
            return "\n".join(lines)
        workable = rng.random() < 0.6
        for run in range(1, 7):
            kind = KINDS[int(rng.integers(6))]
            came = rng.random() < (0.6 if workable else 0.05)
            outcome = "recovered" if came else ("nothing", "part", "top_damaged")[rng.integers(3)]
            day = f"20{10 + number % 15}-{1 + number % 12:02d}-{run:02d}T{run:02d}:30"
            hours = round(float(rng.uniform(10, 23)), 1)
            lines.append(
                f"J{number},{run},{kind},{outcome},parted,8.5,{number % 60},{6000 + number % 7000},"
                f"{day},{hours},0.{rng.integers(1, 10)},a remark of a few words"
            )
            if came or rng.random() < 0.15:
                break
    raise AssertionError
