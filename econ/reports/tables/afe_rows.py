"""The tables of an AFE supplement as plain rows, for the page, CSV files and other reports."""

from __future__ import annotations

from collections.abc import Mapping

from econ.reports.tables.afe import Supplement
from econ.reports.tables.afe_costs import COLUMNS
from econ.reports.tables.formula import Cell, Value
from econ.reports.tables.plain import Row


def cost_rows(found: Supplement) -> list[Row]:
    """The cost table, then its totals by kind and of all."""
    table = found.costs
    rows: list[Row] = [
        {
            "code": line.code,
            "our_code": line.ours,
            "description": line.words,
            "part": line.group,
            "kind": line.kind.value,
            **_values(line.amounts),
            "percent_over": _percent(line.percent),
        }
        for line in table.lines
    ]
    for kind, sums in (*table.by_kind.items(), ("", table.total)):
        rows.append(
            {
                "code": "",
                "our_code": "",
                "description": f"total {kind}".strip(),
                "part": "total",
                "kind": kind,
                **_values(sums),
                "percent_over": None if kind else _percent(table.percent),
            }
        )
    return rows


def stage_rows(found: Supplement) -> list[Row]:
    """Authority in two stages; what is asked for, mean and P90, and the chance of each."""
    stage = {name: _plain(cell) for name, cell in found.stages.items()}
    return [
        {
            "stage": 1,
            "chance": 1.0,
            "asked_for": stage["asked"],
            "mean": stage["mean"],
            "p90": stage["p90"],
            "not_spent": 0.0,
            "runs": stage["runs"],
            "days": stage["days"],
        },
        {
            "stage": 2,
            "chance": stage["need"],
            "asked_for": stage["spending"],
            "mean": stage["spending"],
            "p90": stage["stage_2_p90"],
            "not_spent": stage["not_spent"],
            "runs": None,
            "days": None,
        },
    ]


def option_rows(found: Supplement) -> list[Row]:
    """What can be done, and what it gives."""
    return [
        {"option": option.words, **{name: _plain(cell) for name, cell in option.results.items()}}
        for option in found.options
    ]


def partner_rows(found: Supplement) -> list[Row]:
    """Nets of every partner, then their sums and the gross."""
    shared = found.shares
    rows: list[Row] = []
    for partner in shared.partners:
        nets = (_plain(cell) for cell in partner.nets)
        row = {"partner": partner.name, "role": partner.role, "interest": partner.interest.value}
        rows.append(row | dict(zip(shared.names, nets, strict=True)))
    gross = (_plain(cell) for cell in shared.gross)
    row = {"partner": "gross", "role": "", "interest": shared.interests.value}
    return [*rows, row | dict(zip(shared.names, gross, strict=True))]


def limit_rows(found: Supplement) -> list[Row]:
    """Every limit in runs: expected cost, its two parts, chance recovered."""
    names = ("runs", "days", "fishing", "fallback", "expected_cost", "recovered_share")
    return [{name: _plain(row[name]) for name in names} for row in found.model.limits]


def _values(amounts: Mapping[str, Cell]) -> Row:
    return {name: _plain(amounts[name]) for name in COLUMNS}


def _plain(cell: Cell) -> Value | None:
    """A value; None where there is none."""
    return None if cell.value == "" else cell.value


def _percent(cell: Cell) -> float | None:
    """Percent over the approved, of a share; None for a line that is new."""
    return None if isinstance(cell.value, str) else 100.0 * cell.value
