"""The file of odds that a scenario takes by `odds_from`, as TOML text.

Its format is `econ.scenario.odds_file.OddsFile`; the text is read back through that before it
is given out, so that what is written is what a scenario accepts. Numbers have six digits, and
`nothing` takes what rounding leaves.
"""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Iterable

from econ.records.estimate import RecordOdds, lost_in_words
from econ.records.outcomes import OddsTable
from econ.records.records import MOST_LOST
from econ.records.trade import ORIGIN
from econ.scenario.evidence import Seen
from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.odds_file import OddsFile
from econ.scenario.program import OUTCOMES

TENTH = 1.2815515655446004  # standard deviations from the median of a normal to its P90
HEAD = """\
# Odds from past jobs, written by econ odds. Put beside a scenario and name it there:
#     odds_from = "this file"
# A run without odds takes those of its kind; a run whose odds have a weight is blended with
# them by weight; a run whose odds have none keeps them. weight: runs (or jobs) it is worth.
# low and high: 95 % interval. prior: planning odds of the trade, which count so many runs of each
# kind among those of the records. Past jobs are no promise: see what econ odds says of them.
"""


def odds_fragment(record_odds: RecordOdds, *, force: bool = False) -> str:
    """The TOML text.

    Raises ScenarioError where more than a fifth of the rows or jobs were not taken, because those
    left may be another sort of job, unless `force`. ValueError would mean that this program cannot
    read what it writes.

    >>> from econ.records import odds, read_records
    >>> text = odds_fragment(odds(read_records("scenarios/records/invented_jobs.csv")))
    >>> [line for line in text.splitlines() if line.startswith("[kind")][:2]
    ['[kind.overshot]', '[kind.wash_then_catch]']
    """
    records = record_odds.records
    if records.too_much_lost and not force:
        given = f"{lost_in_words(records)} that were not taken"
        allowed = f"up to {100 * MOST_LOST:g} in 100 of the rows and of the jobs"
        raise ScenarioError(
            [Fault(given, allowed, "mend them; --force writes the odds all the same")]
        )
    endings = record_odds.endings
    lines = [
        HEAD + "schema = 1",
        f"source = {_text(record_odds.records.file)}",
        f"jobs = {len(record_odds.records.names)}",
        f"runs = {len(record_odds.records.job)}",
        *(f"{name} = {count}" for name, count in endings.items()),
        f"rows_not_taken = {records.rows_lost}",
        f"jobs_not_taken = {records.jobs_lost}",
    ]
    lines.append(
        f"prior = {{ weight = {_number(record_odds.prior_weight)}, origin = {_text(ORIGIN)} }}"
    )
    fish = record_odds.fish
    share = fish.workable
    lines.append(
        f"workable = {{ mean = {_number(share.mean)}, weight = {_number(share.weight)}, "
        f"low = {_number(share.low)}, high = {_number(share.high)} }}"
    )
    if fish.per_day is not None and fish.per_day.carried:
        day = fish.per_day
        factor = min(1e6, math.exp(TENTH * day.error))
        lines += [
            "\n[odds_ratio_per_day]  # factor on the odds of recovery; odds below are at day 0",
            f"median = {_number(day.ratio)}",
            f"factor = {_number(factor)}",
            f"low = {_number(day.low)}",
            f"high = {_number(day.high)}",
            f"jobs = {day.jobs}",
        ]
    lines += ["", *_seen(record_odds.seen)]
    for kind in dict.fromkeys(table.kind for table in record_odds.tables):
        lines += ["", *_kind([each for each in record_odds.tables if each.kind == kind])]
    text = "\n".join(lines) + "\n"
    OddsFile.model_validate(tomllib.loads(text), by_alias=True, by_name=False)
    return text


def _seen(seen: Seen) -> Iterable[str]:
    yield "[seen]  # what sort of jobs: in, degrees, ft; jobs by word"
    for name in ("hole_size", "angle", "depth"):
        ends = getattr(seen, name)
        if ends is not None:
            yield f"{name} = [{_number(ends[0])}, {_number(ends[1])}]"
    yield f"most_runs = {seen.most_runs}"
    for name in ("mechanism", "top_condition"):
        words = getattr(seen, name)
        if words:
            yield f"{name} = {{ {', '.join(f'{word} = {n}' for word, n in words.items())} }}"


def _kind(tables: list[OddsTable]) -> Iterable[str]:
    first = tables[0]
    yield f"[kind.{first.kind}]"
    yield f"runs = {first.runs}"
    yield f"jobs = {first.jobs}"
    yield f"recovered = {first.recovered}"
    for table in tables:
        rounded = [round(each, 6) for each in table.odds]
        rounded[OUTCOMES.index("nothing")] += round(1 - sum(rounded), 6)
        parts = dict(zip(OUTCOMES, rounded, strict=True))
        if not parts["prepared"]:  # most kinds have no job of their own besides the fish
            del parts["prepared"]
        parts |= {"weight": table.weight, "low": table.low, "high": table.high}
        inside = ", ".join(f"{name} = {_number(value)}" for name, value in parts.items())
        yield f"{table.fish or 'odds'} = {{ {inside} }}"


def _number(value: float) -> str:
    """Six significant digits, as a TOML float."""
    shown = f"{value:.6g}"
    return shown if any(mark in shown for mark in ".e") else f"{shown}.0"


def _text(words: str) -> str:
    plain = "".join(char if char.isprintable() else " " for char in words)
    return json.dumps(plain or "records")
