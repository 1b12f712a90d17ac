"""Tables of past jobs and the odds they give: what the text, the figure, CSV and JSON show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

import econ
from econ.records import RecordOdds
from econ.records.fish_kinds import Estimate
from econ.records.records import Rejected
from econ.records.trade import ORIGIN
from econ.reports.tables.plain import Row, plain
from econ.scenario.program import OUTCOMES


def import_rows(record_odds: RecordOdds) -> list[Row]:
    """What was read: counts by name."""
    records = record_odds.records
    rejected = sum(each.whole_row for each in records.rejected)
    counts = {
        "rows read": records.rows_read,
        "rows rejected": rejected,
        "rows of trials": records.trials,
        "rows of trials not taken": records.rows_lost,
        "jobs not taken": records.jobs_lost,
        "cells taken as empty": len(records.rejected) - rejected,
        "runs": len(records.job),
        "jobs": len(records.names),
        **{f"jobs {name}": many for name, many in record_odds.endings.items()},
    }
    return [{"what": name, "count": many} for name, many in counts.items()]


def rejected_rows(rejected: Sequence[Rejected]) -> list[Row]:
    """What was not taken, row by row."""
    return [
        {
            "row": each.row,
            "column": each.column,
            "taken_as": "rejected" if each.whole_row else "empty cell",
            "given": each.given,
            "allowed": each.allowed,
            "suggestion": each.suggestion,
        }
        for each in rejected
    ]


def kind_rows(record_odds: RecordOdds) -> list[Row]:
    """By kind of run: counted, and pooled over kinds."""
    return [
        {
            "kind": each.kind,
            "jobs": each.jobs,
            "runs": each.share.cases,
            **each.share.row(),
            "pooled": pooled.mean,
            "pooled_low": pooled.low,
            "pooled_high": pooled.high,
            "pooled_weight": pooled.weight,
        }
        for each, pooled in zip(record_odds.counts.by_kind, record_odds.pooled.kinds, strict=True)
    ]


def word_rows(record_odds: RecordOdds) -> list[Row]:
    """By mark that held and by doubt that a run depended on, as counted."""
    return [
        {
            "column": each.column,
            "word": each.word,
            "jobs": each.jobs,
            "runs": each.share.cases,
            **each.share.row(),
        }
        for each in record_odds.counts.by_word
    ]


def run_rows(record_odds: RecordOdds) -> list[Row]:
    """By number of run: the hazard, and what became of the jobs."""
    return [
        {
            "run": each.run,
            "at_risk": each.share.cases,
            **each.share.row(),
            "lost": each.lost,
            "stopped": each.stopped,
            "still_in": each.still_in,
            "handed_out": handed_out,
        }
        for each, handed_out in zip(record_odds.counts.by_run, record_odds.by_run, strict=True)
    ]


def time_rows(record_odds: RecordOdds) -> list[Row]:
    """Time to recovery: the Kaplan-Meier curve, and the share of jobs that recovered."""
    times = record_odds.times
    names = ("hours", "at_risk", "recovered", "lost", "still_in", "low", "high", "share_recovered")
    columns = [np.asarray(getattr(times, name), dtype=float).tolist() for name in names]
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def fish_rows(record_odds: RecordOdds) -> list[Row]:
    """Share of workable fish and odds on each kind."""
    fish = record_odds.fish
    rows = [_estimate("share of workable fish", "", fish.workable)]
    for kind, good, bad in zip(fish.kinds, fish.on_workable, fish.on_stubborn, strict=True):
        rows += [_estimate(kind, "workable", good), _estimate(kind, "stubborn", bad)]
    return rows


def _estimate(of: str, fish: str, each: Estimate) -> Row:
    row = {"of": of, "fish": fish, "mean": each.mean, "low": each.low}
    return {**row, "high": each.high, "weight": each.weight}


def odds_rows(record_odds: RecordOdds) -> list[Row]:
    """Odds of the six outcomes, by kind of run and kind of fish, with intervals."""
    return [
        {
            "kind": table.kind,
            "fish": table.fish,
            "outcome": outcome,
            "count": count,
            "odds": odds,
            "low": low,
            "high": high,
            "weight": table.weight,
        }
        for table in record_odds.tables
        for outcome, count, odds, (low, high) in zip(
            OUTCOMES, table.counts, table.odds, table.intervals(), strict=True
        )
    ]


def effect_rows(record_odds: RecordOdds) -> list[Row]:
    """Odds ratios over all fish, then the factor per day on each kind of fish."""
    rows: list[Row] = [vars(each) for each in record_odds.effects.found]
    day = record_odds.fish.per_day
    if day is not None:
        rows.append(
            {
                "name": "each day elapsed, kinds of fish apart",
                "against": "the day before",
                "ratio": day.ratio,
                "low": day.low,
                "high": day.high,
                "runs": None,
                "jobs": day.jobs,
            }
        )
    return rows


def calibration_rows(record_odds: RecordOdds) -> list[Row]:
    """Odds stated beforehand against what came of the runs."""
    if record_odds.calibration is None:
        return []
    return [
        {"low": each.low, "high": each.high, "stated": each.stated, "runs": each.share.cases}
        | each.share.row()
        for each in record_odds.calibration.bins
    ]


def one_out_rows(record_odds: RecordOdds) -> list[Row]:
    """Each job predicted from the others, by rule."""
    return [vars(each) for each in record_odds.one_out.scores]


def influence_rows(record_odds: RecordOdds) -> list[Row]:
    """The job without which the odds of a kind move most."""
    return [vars(each) for each in record_odds.one_out.influences]


TABLES = {
    "import": import_rows,
    "rejected": lambda found: rejected_rows(found.records.rejected),
    "by_kind": kind_rows,
    "by_run": run_rows,
    "by_word": word_rows,
    "time_to_recovery": time_rows,
    "kinds_of_fish": fish_rows,
    "odds": odds_rows,
    "odds_ratios": effect_rows,
    "calibration": calibration_rows,
    "one_job_out": one_out_rows,
    "influence": influence_rows,
}


def records_document(record_odds: RecordOdds, outside: Sequence[str] | None) -> Row:
    """All of it as one document of plain values, for `--json`."""
    fish, checked = record_odds.fish, record_odds.calibration
    document: Row = plain(
        {
            "records": record_odds.records.file,
            "version": econ.__version__,
            "remarks": list(record_odds.records.remarks),
            "prior": {"weight": record_odds.prior_weight, "origin": ORIGIN},
            **{name: rows(record_odds) for name, rows in TABLES.items()},
            "told_apart": fish.told_apart,
            "kinds_of_fish_in_words": fish.why,
            "gain": fish.gain,
            "chance": fish.chance,
            "median_hours": record_odds.times.median,
            "jobs_without_times": record_odds.times.left_out,
            "brier": None if checked is None else checked.brier,
            "brier_of_share": None if checked is None else checked.brier_of_share,
            "not_carried": dict(record_odds.effects.left_out),
            "warnings": list(record_odds.warnings),
            "outside": None if outside is None else list(outside),
        }
    )
    return document
