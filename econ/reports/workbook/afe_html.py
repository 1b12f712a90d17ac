"""The supplement as one self-contained page: the tables of the workbook with their values.

Every text of a user is escaped by the template, and the page may load and run nothing.
"""

from __future__ import annotations

from datetime import timedelta

from jinja2 import Environment, StrictUndefined

from econ.reports.tables.afe import Supplement
from econ.reports.tables.afe_costs import COLUMNS
from econ.reports.tables.afe_options import EPOCH
from econ.reports.tables.afe_words import (
    NOT_COVERED,
    PERCENTILES,
    QUESTIONS,
    STAGES,
    WHOLE,
    asked_for,
    basis,
    cautions,
    remarks,
)
from econ.reports.tables.formula import Cell
from econ.reports.theme import INK, MUTED, PAPER, RULE, SCREEN_TYPEFACES, WASH
from econ.reports.workbook.choices import RESULTS
from econ.reports.workbook.money import GROUPS, HEADS

DIGITS = {"money": 0, "cents": 2, "h": 1, "d": 2, "count": 0, "times": 3}

TEMPLATE = """\
<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy"
 content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{ title }}</title>
<style>
body { margin: 1.2em auto; max-width: 84em; padding: 0 1em; color: {{ theme.ink }};
 background: {{ theme.paper }}; font: 14px/1.45 {{ theme.face | safe }}; overflow-wrap: anywhere; }
h1 { font-size: 1.5em; margin: 0 0 .3em; } h2 { font-size: 1.1em; margin: 1.6em 0 .4em; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { padding: .22em .5em; border-bottom: 1px solid {{ theme.rule }}; vertical-align: top;
 text-align: left; font-weight: normal; min-width: 3.5em; overflow-wrap: break-word; }
th[scope=row], td.w, .facts td { overflow-wrap: anywhere; } td.w { min-width: 13em; }
th[scope=row] { min-width: 9em; }
.long { font-size: .86em; } .long th[scope=row] { min-width: 4em; }
thead th { background: {{ theme.wash }}; font-weight: bold; }
td.n, th.n { text-align: right; white-space: nowrap; }
thead th.n { white-space: normal; }
tr.total > * { font-weight: bold; border-top: 1px solid {{ theme.muted }}; }
.facts { width: auto; } .note, li { color: {{ theme.muted }}; font-size: .92em; }
@media print { body { font-size: 9pt; max-width: none; margin: 0; } h2 { break-after: avoid; }
 tr { break-inside: avoid; } .wide { overflow: visible; } @page { margin: 12mm; } }
</style>
</head>
<body>
<h1>Supplement to an authority for expenditure</h1>
<p><strong>{{ ask }}</strong></p>
<table class="facts"><tbody>
{%- for words, value in header %}
<tr><th scope="row">{{ words }}</th><td>{{ value }}</td></tr>
{%- endfor %}
</tbody></table>
{%- for table in tables %}
<h2>{{ table.title }}</h2>
<div class="wide"><table{% if table.heads | length > 9 %} class="long"{% endif %}>
<thead><tr>
{%- for head in table.heads %}<th scope="col"{% if loop.index > table.left %} class="n"{% endif %}>
{{- head }}</th>{% endfor -%}
</tr></thead>
<tbody>
{%- for row in table.rows %}
<tr{% if row.total %} class="total"{% endif %}>
{%- for value in row.cells -%}
{%- if loop.first %}<th scope="row">{{ value }}</th>
{%- elif loop.index > table.left %}<td class="n">{{ value }}</td>
{%- else %}<td{% if loop.index == table.words %} class="w"{% endif %}>{{ value }}</td>{% endif -%}
{%- endfor -%}
</tr>
{%- endfor %}
</tbody></table></div>
{%- for note in table.notes %}
<p class="note">{{ note }}</p>
{%- endfor %}
{%- endfor %}
{%- for title, lines in words %}
<h2>{{ title }}</h2>
<ul>
{%- for line in lines %}
<li>{{ line }}</li>
{%- endfor %}
</ul>
{%- endfor %}
</body>
</html>
"""
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
    template = Environment(autoescape=True, undefined=StrictUndefined).from_string(TEMPLATE)
    return template.render(
        title=f"Supplement {afe.supplement}, {afe.number or job.well}",
        ask=asked_for(found),
        header=[(item.words, shown(item.cell, item.unit)) for item in found.header],
        tables=[_stages(found), _costs(found), _options(found), _rule(found), _partners(found)],
        words=[(title, lines) for title, lines in words if lines],
        theme={
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
        words = (*codes, line.words, GROUPS[line.group], str(line.kind.value))
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
        "heads": [*heads, *HEADS.values(), "Percent over"],
        "left": len(heads),
        "words": 3 if generic else 2,
        "rows": rows,
        "notes": [
            f"Unspent contingency released, in the change: {released}. {trigger}",
            *([f"Below the line. {'. '.join(below)}."] if below else []),
        ],
    }


def _options(found: Supplement) -> Table:
    return {
        "title": "Options, from now on",
        "heads": ("", *(words for words, _ in RESULTS.values())),
        "left": 1,
        "words": 1,
        "rows": [
            _row(
                option.words,
                *(shown(option.results[name], kind) for name, (_, kind) in RESULTS.items()),
            )
            for option in found.options
        ],
        "notes": [PERCENTILES],
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
        "heads": ("Partner", "Role", "Interest", *shared.words),
        "left": 2,
        "words": 1,
        "rows": rows,
        "notes": ["The operator, or the largest interest, takes what is left of a cent."],
    }
