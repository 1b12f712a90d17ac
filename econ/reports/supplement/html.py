"""The supplement as one self-contained page: the tables of the workbook with their values.

Every text of a user is escaped by the template, and the page may load and run nothing.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from econ.reports.look import INK, MUTED, PAPER, RULE, SCREEN_TYPEFACES, WASH
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.costs import COLUMNS
from econ.reports.supplement.estimate import SLICES, Product
from econ.reports.supplement.options import EPOCH, RESULTS
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.words import (
    COLUMN_HEADS,
    GROUP_WORDS,
    NAMES,
    NOT_COVERED,
    PERCENTILES,
    QUESTIONS,
    SHOWN,
    STAGES,
    WHOLE,
    asked_for,
    basis,
    cautions,
    remarks,
)

DIGITS = {"money": 0, "cents": 2, "h": 1, "d": 2, "count": 0, "times": 3, "price": 2}

TEMPLATE = "supplement.html.j2"
Row = dict[str, object]
Table = dict[str, object]


def page(found: Supplement) -> str:
    """The page of a supplement."""
    afe, job = found.answer.scenario.afe, found.answer.scenario.job
    words = [
        ("What the amounts rest on", [*basis(found), WHOLE]),
        ("What is not covered", NOT_COVERED),
        ("Before the vote", QUESTIONS),
        ("Notes of the program", remarks(found)),
        ("Cautions", cautions(found)),
    ]
    loader = FileSystemLoader(Path(__file__).parent)
    room = Environment(autoescape=True, undefined=StrictUndefined, loader=loader)
    return room.get_template(TEMPLATE).render(
        title=f"Supplement {afe.supplement}, {afe.number or job.well}",
        ask=asked_for(found),
        header=[(item.words, shown(item.cell, item.unit)) for item in found.header],
        tables=[
            _stages(found),
            _costs(found),
            _estimate(found),
            _options(found),
            _rule(found),
            _partners(found),
        ],
        words=[(title, lines) for title, lines in words if lines],
        look={
            "ink": INK,
            "muted": MUTED,
            "paper": PAPER,
            "rule": RULE,
            "wash": WASH,
            "face": SCREEN_TYPEFACES,
        },
    )


def shown(cell: Cell | None, kind: str) -> str:
    """A value as the page shows it, rounded as in the workbook."""
    value = "" if cell is None else cell.value
    if isinstance(value, str):
        return value
    if kind in ("%", "odds", "interest"):
        digits = 4 if kind == "interest" else 1
        text = f"{100 * value:.{digits}f}"
        return f"{text.rstrip('0').rstrip('.') if kind == 'interest' else text} %"
    if kind in ("date", "moment"):
        moment = EPOCH + timedelta(seconds=round(value * 86_400))
        return f"{moment:%Y-%m-%d}" if kind == "date" else f"{moment:%Y-%m-%d %H:%M}"
    if kind in ("money", "cents") and value == 0:
        return "-"
    text = f"{value:,.{DIGITS.get(kind, 0)}f}"
    return text.removeprefix("-") if float(text.replace(",", "")) == 0 else text


def _row(*cells: str, total: bool = False) -> Row:
    return {"cells": cells, "total": total}


def _stages(found: Supplement) -> Table:
    stage = found.stages
    rows = [
        _row("Asked for", shown(stage["asked"], "money"), shown(stage["spending"], "money")),
        _row("Chance that it is drawn", "100.0 %", shown(stage["need"], "%")),
        _row("Mean if drawn", shown(stage["mean"], "money"), shown(stage["spending"], "money")),
        _row("P90 if drawn", shown(stage["p90"], "money"), shown(stage["stage_2_p90"], "money")),
        _row("Runs, at most", shown(stage["runs"], "count"), ""),
        _row("Days, if every run fails", shown(stage["days"], "d"), ""),
    ]
    call = shown(stage["expected_call"], "money")
    return {
        "title": "Authority in two stages",
        "heads": ("", "Stage 1: fish", "Stage 2: fallback"),
        "left": 1,
        "words": 1,
        "rows": rows,
        "notes": [f"Expected call, both stages: {call}. {STAGES}"],
    }


def _costs(found: Supplement) -> Table:
    table = found.costs
    generic = bool(found.codes)
    rows = []
    for line in table.lines:
        codes = (line.code, line.ours) if generic else (line.code,)
        amounts = (shown(line.amounts[name], "money") for name in COLUMNS)
        words = (*codes, line.words, GROUP_WORDS[line.group], str(line.kind.value))
        rows.append(_row(*words, *amounts, shown(line.percent, "%")))
    blank = [""] * (3 if generic else 2)
    for kind, sums in (*table.by_kind.items(), ("", table.total)):
        amounts = (shown(sums[name], "money") for name in COLUMNS)
        percent = "" if kind else shown(table.percent, "%")
        rows.append(_row("Total", *blank, kind, *amounts, percent, total=True))
    trigger = (
        f"Trigger: {shown(table.trigger_percent, '%')} by {table.trigger_basis.value}; the change "
        f"is {table.triggered.value}. A sidetrack changes the scope, which may call for a "
        "supplement below any trigger."
    )
    below = [f"{item.words}: {shown(item.cell, item.unit)}" for item in table.below_the_line]
    released = shown(table.released, "money")
    heads = ["Code", *(["Our code"] if generic else []), "Description", "Part", "Kind"]
    return {
        "title": "Costs by code",
        "heads": [*heads, *COLUMN_HEADS.values(), "Percent over"],
        "left": len(heads),
        "words": 3 if generic else 2,
        "rows": rows,
        "notes": [
            f"Unspent contingency released, in the change: {released}. {trigger}",
            *([f"Below the line. {'. '.join(below)}."] if below else []),
        ],
    }


def _estimate(found: Supplement) -> Table:
    """Quantity, price and amount of every line, where a run fails and on average."""
    rows = []
    for line in found.estimate.lines:
        words = (found.own_code(str(line.code.value)), line.words, SLICES[str(line.slice.value)])
        planned, expected = _product(line.planned), _product(line.expected)
        rows.append(_row(*words, line.unit, *planned, *expected))
    for name, words in SLICES.items():
        amount = shown(Cell(found.estimate.of_slice(name)), "money")
        if amount != "-":
            rows.append(_row("", f"Total, {words.lower()}", *[""] * 7, amount, total=True))
    heads = ("Code", "Description", "Slice", "Unit", *("Quantity", "Price", "Amount") * 2)
    return {
        "title": "Estimate: if every run fails, then on average",
        "heads": heads,
        "left": 4,
        "words": 2,
        "rows": rows,
        "notes": [],
    }


def _product(product: Product | None) -> tuple[str, str, str]:
    if product is None:
        return "", "", ""
    return (
        shown(product.quantity, "times"),
        shown(product.price, "money"),
        shown(product.amount, "money"),
    )


def _options(found: Supplement) -> Table:
    return {
        "title": "Options, from now on",
        "heads": ("", *(words for _, words, _ in RESULTS.values())),
        "left": 1,
        "words": 1,
        "rows": [
            _row(
                option.words,
                *(shown(option.results[name], kind) for name, (_, _, kind) in RESULTS.items()),
            )
            for option in found.options
        ],
        "notes": [f"{SHOWN} {PERCENTILES}"],
    }


def _rule(found: Supplement) -> Table:
    return {
        "title": "Stop rule: whichever comes first",
        "heads": ("", "Limit", "So far"),
        "left": 1,
        "words": 1,
        "rows": [
            _row(row.words, shown(row.limit, row.unit), shown(row.position, row.unit))
            for row in found.rule
        ],
        "notes": ["Fishing also stops when the fish is out, or string or hole is lost."],
    }


def _partners(found: Supplement) -> Table:
    shared = found.shares
    rows = [
        _row(
            partner.name,
            partner.role,
            shown(partner.interest, "interest"),
            *(shown(net, "cents") for net in partner.nets),
        )
        for partner in shared.partners
    ]
    gross = (shown(cell, "cents") for cell in shared.gross)
    total = shown(shared.interests, "interest")
    rows.append(_row("Gross", "", total, *gross, total=True))
    return {
        "title": "Working interests, net",
        "heads": ("Partner", "Role", "Interest", *(NAMES[name] for name in shared.names)),
        "left": 2,
        "words": 1,
        "rows": rows,
        "notes": ["The operator, or the largest interest, takes what is left of a cent."],
    }
