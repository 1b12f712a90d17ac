"""Past jobs and their odds as plain ASCII text, at most 72 columns wide."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Sequence

from econ.records import RecordOdds
from econ.records.trade import ORIGIN
from econ.reports.names import one_line
from econ.reports.tables import records as tables
from econ.reports.tables.plain import Row
from econ.scenario.program import OUTCOMES

WIDTH = 72
LISTED = 20  # rejections told in full
TIMES = 8  # rows of the curve of recovery

SHORT_OUTCOMES = {
    "recovered": "recov",
    "part": "part",
    "nothing": "noth",
    "prepared": "prep",
    "top_damaged": "tdam",
    "string_lost": "slost",
    "hole_lost": "hlost",
}


def records_text(found: RecordOdds, outside: Sequence[str] | None = None) -> str:
    """The whole report. outside: where a case lies outside the records; None: not asked."""
    parts = [
        _import(found),
        _rejected(found),
        _kinds(found),
        _runs(found),
        _times(found),
        _fish(found),
        _outcomes(found),
        _effects(found),
        _calibration(found),
        _one_out(found),
        _points("Warnings:", found.warnings),
        [] if outside is None else _outside(outside),
        _wrap(
            "Past jobs are no promise. Odds from records inform a decision; they are no procedure, "
            "and the person in charge on the rig and local rules come first."
        ),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _wrap(words: str, hang: int = 0) -> list[str]:
    return textwrap.wrap(one_line(words), WIDTH, subsequent_indent=" " * hang) or [""]


def _points(head: str, words: Sequence[str]) -> list[str]:
    return [head, *(line for each in words for line in _wrap(f"- {each}", 2))] if words else []


def _import(found: RecordOdds) -> list[str]:
    count = {row["what"]: row["count"] for row in tables.import_rows(found)}
    lines = _wrap(f"Odds from past jobs: {found.records.file}")
    lines += _wrap(
        f"{count['rows read']} rows read, {count['rows rejected']} rejected, "
        f"{count['cells taken as empty']} cells taken as empty; {count['runs']} runs of "
        f"{count['jobs']} jobs: {count['jobs recovered']} recovered, {count['jobs lost']} lost, "
        f"{count['jobs stopped']} stopped. A stopped job is censored: no failure of a run that was "
        "never made."
    )
    return lines


def _rejected(found: RecordOdds) -> list[str]:
    rejected = found.records.rejected
    lines = _points(
        "Not taken:", [str(each).removeprefix("records ") for each in rejected[:LISTED]]
    )
    if len(rejected) > LISTED:
        more = Counter(
            (each.column or "row", each.given, each.suggestion) for each in rejected[LISTED:]
        )
        lines += _wrap(f"and {len(rejected) - LISTED} more; the commonest:")
        for (column, given, todo), many in more.most_common(5):
            lines += _wrap(f"- {many} x {column} {given}{'; ' * bool(todo)}{todo}", 2)
    return lines


def _kinds(found: RecordOdds) -> list[str]:
    lines = [
        "By kind of run, chance to recover the fish (95 % intervals):",
        "  kind                runs   out  rate  Wilson     pooled        weight",
    ]
    for row in tables.kind_rows(found):
        lines.append(
            f"  {row['kind']:<17}{row['runs']:>7}{row['recovered']:>6} {row['rate']:>5.2f}  "
            f"{_ends(row, 'wilson')}  {row['pooled']:.2f} {_ends(row, 'pooled')}"
            f"{row['pooled_weight']:>6.0f}"
        )
    return lines + _wrap(
        "pooled: kinds with few runs lean on the others; weight: runs the odds are worth."
    )


def _ends(row: Row, name: str = "") -> str:
    low, high = (row[f"{name}_{end}" if name else end] for end in ("low", "high"))
    return f"{low:.2f}-{high:.2f}"


def _runs(found: RecordOdds) -> list[str]:
    lines = [
        "By number of run (hazard: chance that this run ends it with the fish):",
        "  run   made    out  hazard  Wilson       lost  stopped  still in",
    ]
    rows = tables.run_rows(found)
    for row in rows[:12]:
        lines.append(
            f"  {row['run']:>3}{row['at_risk']:>7}{row['recovered']:>7}{row['rate']:>8.2f}  "
            f"{_ends(row, 'wilson')}{row['lost']:>8}{row['stopped']:>9}{row['still_in']:>10.2f}"
        )
    return lines + ([f"  and {len(rows) - 12} more"] if len(rows) > 12 else [])


def _times(found: RecordOdds) -> list[str]:
    times, rows = found.times, tables.time_rows(found)
    if not rows:
        return _wrap("Time to recovery: no job with its times ended in recovery or loss.")
    lines = [
        "Time to recovery (Kaplan-Meier; stops and losses censor it):",
        "  hours  at risk  still in  95 %        jobs recovered by then",
    ]
    step = max(1, -(-len(rows) // TIMES))
    for row in [*rows[step - 1 : -1 : step], rows[-1]]:
        band = f"{row['low']:.2f}-{row['high']:.2f}" if row["low"] == row["low"] else "  -      "
        lines.append(
            f"  {row['hours']:>5.0f}{row['at_risk']:>9.0f}{row['still_in']:>10.2f}  {band:<10}"
            f"{row['share_recovered']:>12.2f}"
        )
    median = "not reached" if times.median is None else f"{times.median:.0f} h"
    without = f" {times.left_out} jobs have no times." if times.left_out else ""
    return lines + _wrap(
        f"Half would be out by, were nothing lost: {median}. The last column counts a lost string "
        f"or hole as an end of its own, which a stop is not.{without}"
    )


def _fish(found: RecordOdds) -> list[str]:
    lines = ["Two kinds of fish:", *_wrap(found.fish.why)]
    if found.fish.told_apart:
        lines += _wrap(
            "Odds that fall from run to run for another reason look the same to this fit."
        )
    share, *odds = tables.fish_rows(found)
    lines.append(f"  {'share of workable fish':<24}{share['mean']:.2f}  {_ends(share)}")
    for good, bad in zip(odds[::2], odds[1::2], strict=True):
        lines.append(
            f"  {good['of']:<18} workable {good['mean']:.2f} {_ends(good)}   "
            f"stubborn {bad['mean']:.2f} {_ends(bad)}"
        )
    by = "profile likelihood" if found.fish.profiled else "curvature (very many runs)"
    return lines + _wrap(
        f"Intervals by {by}. Beside the records the odds of the trade count {found.prior_weight:g} "
        f"runs of each kind ({ORIGIN})."
    )


def _outcomes(found: RecordOdds) -> list[str]:
    # A column of its own for `prepared` only where some kind of run was seen to end so.
    shown = {
        place: SHORT_OUTCOMES[name]
        for place, name in enumerate(OUTCOMES)
        if name != "prepared" or any(table.odds[place] > 0 for table in found.tables)
    }
    kind, fish = (16, 9) if len(shown) < len(OUTCOMES) else (14, 8)
    heads = "".join(f"{word:>6}" for word in shown.values())
    lines = [
        "Odds of the outcomes (Dirichlet; columns as in a scenario):",
        f"  {'kind':<{kind}}{'fish':<{fish}}{heads}weight",
    ]
    for table in found.tables:
        odds = "".join(f"{table.odds[place]:>6.3f}" for place in shown)
        name = f"{table.kind[:kind]:<{kind}}"
        lines.append(f"  {name}{table.fish or 'all':<{fish}}{odds}{table.weight:>6.0f}")
    return lines


def _effects(found: RecordOdds) -> list[str]:
    rows = tables.effect_rows(found)
    lines = ["Odds ratios for recovery (1: no effect), error by job:"] if rows else []
    for row in rows:
        lines += _wrap(f"  {row['name']}: {row['ratio']:.2f}, {_ends(row)}, vs {row['against']}", 4)
    day = found.fish.per_day
    if day is not None and not day.carried:
        lines += _wrap(
            "The factor per day, kinds of fish apart, is not told from 1: none is handed out."
        )
    return lines + _points(
        "Not carried by the records:",
        [f"{name}: {reason}" for name, reason in found.effects.left_out],
    )


def _calibration(found: RecordOdds) -> list[str]:
    checked = found.calibration
    if checked is None:
        return ["Odds stated beforehand: none in the records, so none checked."]
    lines = [
        "Odds stated beforehand against what came (reliability):",
        "  stated     runs  mean stated  recovered  Wilson",
    ]
    for row in tables.calibration_rows(found):
        lines.append(
            f"  {row['low']:.1f} - {row['high']:.1f}{row['runs']:>6}{row['stated']:>13.2f}"
            f"{row['rate']:>11.2f}  {_ends(row, 'wilson')}"
        )
    low, high = checked.share.wilson
    verdict = (
        "too hopeful" if checked.stated > high else "too gloomy" if checked.stated < low else "fair"
    )
    worse = "worse" if checked.brier > checked.brier_of_share else "better"
    return lines + _wrap(
        f"On average {verdict}: {checked.stated:.2f} stated, {checked.share.rate:.2f} came. Brier "
        f"score {checked.brier:.3f}, {worse} than {checked.brier_of_share:.3f} of always stating "
        "the overall share (lower is better)."
    )


def _one_out(found: RecordOdds) -> list[str]:
    if not found.one_out.scores:
        return ["One job left out: there is but one job, so nothing can be checked."]
    lines = [
        "One job left out (each predicted from the others; lower is better):",
        "  rule                     Brier  log score",
    ]
    for row in tables.one_out_rows(found):
        lines.append(f"  {row['rule']:<23}{row['brier']:>7.3f}{row['log']:>11.3f}")
    worst = max(tables.influence_rows(found), key=lambda row: abs(row["odds"] - row["without"]))
    return lines + _wrap(
        f"The job that moves most: without {worst['job']} the odds of {worst['kind']} are "
        f"{worst['without']:.2f} instead of {worst['odds']:.2f}."
    )


def _outside(outside: Sequence[str]) -> list[str]:
    inside = "The case at hand lies inside the records, as far as they tell."
    return _points("The case at hand lies outside the records:", outside) or _wrap(inside)
