"""Before and after as plain values, for `--json` and for whoever lays it out."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

import econ
from econ.decision.whatif import Side, WhatIf
from econ.reports.after_log import log_row
from econ.reports.tables.plain import plain
from econ.scenario.distributions import Distribution

Row = dict[str, Any]


def whatif_document(whatif: WhatIf) -> Row:
    """The whole comparison as one document."""
    draws = whatif.before.scenario.draws
    document: Row = plain(
        {
            "scenario": whatif.before.scenario.job.well,
            "currency": whatif.before.scenario.currency,
            "draws": whatif.before.draws,
            "scrambles": draws.scrambles,
            "seed": draws.seed,
            "version": econ.__version__,
            "log": log_row(whatif.before.scenario, whatif.log),
            "changed": changed_rows(whatif),
            "before": half_row(whatif.before),
            "after": half_row(whatif.after),
            "figures": [asdict(figure) for figure in whatif.figures],
            "by_runs": [
                {"runs": n, **{key: value for key, value in asdict(row).items() if key != "name"}}
                for n, row in enumerate(whatif.by_runs)
            ],
        }
    )
    return document


def changed_rows(whatif: WhatIf) -> list[Row]:
    """The keys that differ, with their values before and after."""
    return [
        {"key": each.key, "before": _value(each.before), "after": _value(each.after)}
        for each in whatif.changed
    ]


def half_row(half: Side) -> Row:
    """The verdict of one side."""
    judged = half.verdict
    return {
        "verb": "fish" if half.fish else "stop",
        "runs": judged.best,
        "days": half.days,
        "flat_runs": [judged.flat[0], judged.flat[-1]],
        "flat_limits": list(judged.flat),
        "resolved": not judged.not_told_apart,
        "not_told_apart": list(judged.not_told_apart),
        "cost_of_minimum": judged.cost_of_minimum,
        "next_run": half.next_run,
    }


def _value(value: Any) -> Any:
    if isinstance(value, Distribution):
        return value.model_dump()
    return value.isoformat() if isinstance(value, date) else value
