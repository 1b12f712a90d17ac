"""The tables of an AFE supplement as plain rows and as CSV: names are codes, numbers plain."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict

from econ.decision.hold import Issued
from econ.engine.curves import FISHING
from econ.reports.supplement.cells import Cell, Value
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.costs import COLUMNS
from econ.reports.supplement.issue import issue_of
from econ.reports.supplement.shares import SHARED
from econ.reports.tables.figures import as_csv
from econ.reports.tables.partners import call_rows
from econ.reports.tables.plain import Row


def cost_rows(supplement: Supplement) -> list[Row]:
    """The cost table, then its totals by kind and of all."""
    table = supplement.costs
    return [
        {
            "code": line.code,
            "our_code": line.ours,
            "description": line.words,
            "part": line.part,
            "kind": line.kind.value,
            **{name: _plain(line.amounts[name]) for name in COLUMNS},
            "percent_over": _percent(line.percent),
        }
        for line in (*table.lines, *table.totals)
    ]


def stage_rows(supplement: Supplement) -> list[Row]:
    """The slices where they are drawn, then the three sums; what is granted is marked."""
    empty: Row = dict.fromkeys(("chance", "planned", "mean", "p90", "expected"))
    sums = ("amount", "contingency", "ask", "lapses", "total", "change", "percent")
    rows: list[Row] = []
    for each in supplement.ask.slices:
        row: Row = {"row": each.name, "granted": None}
        row |= {name: _plain(getattr(each, name)) for name in empty}
        rows.append(row | dict.fromkeys(sums))
    for asked in supplement.ask.sums:
        row = {"row": asked.words, "granted": asked.granted, **empty}
        row |= {name: _plain(getattr(asked, name)) for name in sums[:-1]}
        rows.append(row | {"percent": _percent(asked.percent)})
    return rows


def option_rows(supplement: Supplement) -> list[Row]:
    """What can be done, and what it gives."""
    return [asdict(choice) for choice in supplement.choices]


def partner_rows(supplement: Supplement) -> list[Row]:
    """Nets of every partner, then the gross."""
    shared = supplement.shares
    rows: list[Row] = []
    for partner in shared.partners:
        nets = {name: _plain(partner.nets[name]) for name in SHARED}
        row = {"partner": partner.name, "role": partner.role, "interest": partner.interest.value}
        rows.append(row | nets)
    gross = {name: _plain(shared.gross[name]) for name in SHARED}
    return [*rows, {"partner": "gross", "role": "", "interest": shared.interests.value, **gross}]


def limit_rows(supplement: Supplement) -> list[Row]:
    """Every limit in runs: expected cost, its two parts, chance recovered."""
    rows = []
    for limit, taken in zip(supplement.answer.by_runs, supplement.answer.quantities, strict=True):
        fishing = sum(taken.expected[name] for name in FISHING)
        rows.append(
            {
                "runs": limit.runs,
                "days": limit.days,
                "fishing": fishing,
                "fallback": limit.expected_cost - fishing,
                "expected_cost": limit.expected_cost,
                "recovered_share": limit.probability_recovered,
            }
        )
    return rows


def line_rows(supplement: Supplement) -> list[Row]:
    """The estimate: quantity, price and amount, planned and expected; one row for each line and
    slice, no totals, each with the authority, the supplement and the issue that it is of."""
    afe, made = supplement.answer.scenario.afe, issue_of(supplement.answer)
    issue: Row = {
        "authority": afe.number,
        "supplement": afe.supplement,
        "issue": made.issue,
        "issued": None if made.issued is None else made.issued.isoformat(),
        "currency": supplement.answer.scenario.currency,
        "fingerprint": made.fingerprint,
    }
    rows = []
    for line in supplement.estimate.lines:
        row: Row = {
            **issue,
            "code": supplement.own_code(str(line.code.value)),
            "our_code": line.code.value,
            "description": line.words,
            "slice": line.slice.value,
            "unit": line.unit,
            "stated_price": line.stated.value,
        }
        for name, side in (("planned", line.planned), ("expected", line.mean)):
            for part in ("quantity", "price", "amount"):
                row[f"{name}_{part}"] = getattr(side, part).value
        rows.append(row)
    return rows


def _plain(cell: Cell) -> Value | None:
    """A value; None where there is none."""
    return None if cell.value == "" else cell.value


def _percent(cell: Cell) -> float | None:
    """Percent over the approved, of a share; None for a line that is new."""
    return None if isinstance(cell.value, str) else 100.0 * cell.value


TABLES: dict[str, Callable[[Supplement], list[Row]]] = {
    "costs": cost_rows,
    "stages": stage_rows,
    "options": option_rows,
    "partners": partner_rows,
    "limits": limit_rows,
    "lines": line_rows,
    "calls": lambda found: call_rows(found.answer),
}


def table_csv(supplement: Supplement, name: str) -> str:
    """A table of `TABLES` as CSV with a header."""
    return as_csv(TABLES[name](supplement))


def issue_json(supplement: Supplement) -> str:
    """The issue, for `econ afe --hold`."""
    return json.dumps(Issued.of(supplement.answer).document(), indent=1, ensure_ascii=False) + "\n"
