"""Past jobs and their odds as plain ASCII text, at most 64 columns wide.

The first line says what is to be used, and how far. Then by number of run, because that is how a
job is lived, then by kind of run, then the odds that are handed out; the checks come last. What a
word or a statistic means stands in notebooks/guide/records.md.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from econ.records import RecordOdds
from econ.records.estimate import FEW_JOBS, lost_in_words
from econ.records.job_rows import LEFT_OUT
from econ.records.reading import alike
from econ.records.records import Rejected
from econ.records.trade import ORIGIN
from econ.reports.names import one_line
from econ.reports.tables import records as tables
from econ.reports.tables.plain import Row
from econ.scenario.program import OUTCOMES

WIDTH = 64
LISTED = 20  # reasons of rejections told in full
ROWS_NAMED = 8  # of a reason
TIMES = 8  # rows of the curve of recovery
RUNS = 12  # numbers of run
ORDINALS = ("First run", "second", "third")

SHORT_OUTCOMES = {
    "recovered": "recov",
    "part": "part",
    "nothing": "noth",
    "prepared": "prep",
    "top_damaged": "tdam",
    "string_lost": "slost",
    "hole_lost": "hlost",
}


def records_text(record_odds: RecordOdds, outside: Sequence[str] | None = None) -> str:
    """The whole report. outside: where a case lies outside the records; None: not asked."""
    parts = [
        _wrap(headline(record_odds)),
        _import(record_odds),
        _points("Read so, and asked:", record_odds.records.remarks),
        _rejected(record_odds.records.rejected),
        _runs(record_odds),
        _kinds(record_odds),
        _words(record_odds),
        _fish(record_odds),
        _outcomes(record_odds),
        _times(record_odds),
        _effects(record_odds),
        _calibration(record_odds),
        _one_out(record_odds),
        _points("Warnings:", record_odds.warnings),
        [] if outside is None else _outside(outside),
        _wrap(
            "Past jobs are no promise. Odds from records inform a decision; they are no procedure, "
            "and the person in charge on the rig and local rules come first."
        ),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def headline(record_odds: RecordOdds) -> str:
    """The odds of the first runs as they are handed out, and how to use them.

    >>> from econ.records import odds, read_records
    >>> headline(odds(read_records("scenarios/records/invented_jobs.csv")))[:54]
    'First run 38 %, second 24 %, third 16 %; use with a ju'
    """
    runs = [
        f"{name} {_percent(chance)}"
        for name, each, chance in zip(
            ORDINALS, record_odds.counts.by_run, record_odds.by_run, strict=False
        )
        if each.run <= len(ORDINALS)
    ]
    return f"{', '.join(runs)}; {_use(record_odds)}."


def _use(record_odds: RecordOdds) -> str:
    records, jobs = record_odds.records, len(record_odds.records.names)
    if records.too_much_lost:
        return (
            f"do not use these odds, because {lost_in_words(records)} were not taken, and those "
            "left may be another sort of job"
        )
    won = record_odds.counts.all_runs.successes
    if won == 0:
        return (
            "use with the odds of the trade in mind, because no run of these records recovered a "
            "fish"
        )
    if jobs < FEW_JOBS:
        are = "jobs are" if jobs > 1 else "job is"
        return (
            f"use with a judgement of your own, because {jobs} {are} few and the odds still lean "
            "on those of the trade"
        )
    if won == jobs:
        return (
            "use with doubt, because every job recovered its fish: were jobs without success left "
            "out?"
        )
    if not record_odds.fish.told_apart:
        return (
            "use with care for late runs, because the records do not show how fast the odds fall, "
            "and that leans on the trade"
        )
    return (
        "use with a judgement of the fish at hand beside them, because they are of the average "
        f"fish of {jobs} jobs"
    )


def _percent(chance: float) -> str:
    return f"{100 * chance:.0f} %"


def _wrap(words: str, hang: int = 0) -> list[str]:
    return textwrap.wrap(one_line(words), WIDTH, subsequent_indent=" " * hang) or [""]


def _points(head: str, words: Sequence[str]) -> list[str]:
    return [head, *(line for each in words for line in _wrap(f"- {each}", 2))] if words else []


def _import(record_odds: RecordOdds) -> list[str]:
    count = {row["what"]: row["count"] for row in tables.import_rows(record_odds)}
    lines = _wrap(f"Odds from past jobs: {record_odds.records.file}")
    lines += _wrap(
        f"{count['rows read']} rows read, {count['rows rejected']} rejected, "
        f"{count['cells taken as empty']} cells taken as empty; {count['runs']} runs of "
        f"{count['jobs']} jobs: {count['jobs recovered']} recovered, {count['jobs lost']} lost, "
        f"{count['jobs stopped']} stopped. A stopped job shows no failure of a run that was never "
        "made."
    )
    return lines


def _rejected(rejected: Sequence[Rejected]) -> list[str]:
    """Reasons with their rows, one for all rows that it holds for."""
    told = alike(each for each in rejected if each.allowed != LEFT_OUT)
    points = [_reason(one, rows) for one, rows in told[:LISTED]]
    if len(told) > LISTED:
        more = sum(len(rows) for _, rows in told[LISTED:])
        points.append(f"and {more} rows more, for {len(told) - LISTED} other reasons")
    if left := sum(each.allowed == LEFT_OUT for each in rejected):
        points.append(f"{left} further rows of these jobs went with them")
    return _points("Not taken:", points)


def _reason(one: Rejected, rows: Sequence[int]) -> str:
    words = str(one).removeprefix(f"records row {one.row}").removeprefix(", ").removeprefix(": ")
    named = ", ".join(map(str, rows[:ROWS_NAMED]))
    more = f" and {len(rows) - ROWS_NAMED} more" if len(rows) > ROWS_NAMED else ""
    return f"row{'s' if len(rows) > 1 else ''} {named}{more}, {words}"


def _ends(row: Row, name: str = "") -> str:
    """Ends of an interval in percent."""
    low, high = (row[f"{name}_{end}" if name else end] for end in ("low", "high"))
    return f"{100 * low:.0f}-{100 * high:.0f}"


def _whole(chance: float) -> str:
    return f"{100 * chance:.0f}"


def _runs(record_odds: RecordOdds) -> list[str]:
    lines = [
        "By number of run, chance that it brings the fish, in percent:",
        "  run   made    out counted    95 %  by the odds  lost stopped",
    ]
    rows = tables.run_rows(record_odds)
    for row in rows[:RUNS]:
        lines.append(
            f"{row['run']:>5}{row['at_risk']:>7}{row['recovered']:>7}{_whole(row['rate']):>8}"
            f"{_ends(row, 'wilson'):>8}{_whole(row['handed_out']):>13}{row['lost']:>6}"
            f"{row['stopped']:>8}"
        )
    lines += [f"  and {len(rows) - RUNS} more"] if len(rows) > RUNS else []
    return lines + _wrap(
        "by the odds: as those handed out have it, after the failures before. It falls because "
        "the fish that come easily are out."
    )


def _kinds(record_odds: RecordOdds) -> list[str]:
    lines = [
        "By kind of run, over all its runs, early and late, in percent:",
        "  kind                runs   out counted   95 %  leaning   95 %",
    ]
    for row in tables.kind_rows(record_odds):
        lines.append(
            f"  {row['kind']:<17}{row['runs']:>7}{row['recovered']:>6}{_whole(row['rate']):>8}"
            f"{_ends(row, 'wilson'):>7}{_whole(row['pooled']):>9}{_ends(row, 'pooled'):>7}"
        )
    return lines + _wrap("leaning: the fewer its runs, the more on other kinds and on the trade.")


def _words(record_odds: RecordOdds) -> list[str]:
    rows = tables.word_rows(record_odds)
    if not rows:
        return []
    lines = [
        "By mark at the start of a run and by doubt, in percent:",
        "                            runs   out counted    95 %",
    ]
    for row in rows:
        what = "with" if row["column"] == "marks" else "on"
        name = f"{what} {row['word']}"[:24]
        lines.append(
            f"  {name:<24}{row['runs']:>6}{row['recovered']:>6}{_whole(row['rate']):>8}"
            f"{_ends(row, 'wilson'):>8}"
        )
    return lines


def _fish(record_odds: RecordOdds) -> list[str]:
    share, *odds = tables.fish_rows(record_odds)
    lines = [
        "Odds handed out, by kind of fish, in percent:",
        f"  share of workable fish: {_whole(share['mean'])} ({_ends(share)})",
        "  kind               workable    95 %   stubborn    95 %",
    ]
    for good, bad in zip(odds[::2], odds[1::2], strict=True):
        lines.append(
            f"  {good['of']:<19}{_whole(good['mean']):>8}{_ends(good):>8}"
            f"{_whole(bad['mean']):>11}{_ends(bad):>8}"
        )
    lines += _wrap(
        f"Beside the records the odds of the trade count {record_odds.prior_weight:g} runs of each "
        f"kind ({ORIGIN})."
    )
    lines += _wrap(record_odds.fish.why[0].upper() + record_odds.fish.why[1:] + ".")
    if record_odds.fish.told_apart:
        lines += _wrap("Odds that fall from run to run for another reason would look the same.")
    if not record_odds.fish.profiled:
        lines += _wrap("Intervals by curvature, because the runs are very many.")
    return lines


def _outcomes(record_odds: RecordOdds) -> list[str]:
    # A column of its own for `prepared` only where some kind of run was seen to end so.
    shown = {
        place: SHORT_OUTCOMES[name]
        for place, name in enumerate(OUTCOMES)
        if name != "prepared" or any(table.odds[place] > 0 for table in record_odds.tables)
    }
    lines = [
        "Odds of every outcome, as in the file for a scenario:",
        " " * 14 + "".join(f"{word:>6}" for word in shown.values()) + " worth",
    ]
    for kind in dict.fromkeys(table.kind for table in record_odds.tables):
        lines.append(f"  {kind}")
        for table in record_odds.tables:
            if table.kind == kind:
                odds = "".join(f"{table.odds[place]:>6.3f}" for place in shown)
                fish = table.fish or "all fish"
                lines.append(f"    {fish:<10}{odds}{table.weight:>6.0f}")
    return lines + _wrap("worth: past runs that the odds count beside a judgement.")


def _times(record_odds: RecordOdds) -> list[str]:
    times, rows = record_odds.times, tables.time_rows(record_odds)
    if not rows:
        return _wrap("Time to recovery: no job with its times ended in recovery or loss.")
    lines = [
        "Time to recovery, in percent:",
        "  hours  jobs at it  still in    95 %  jobs with the fish out",
    ]
    step = max(1, -(-len(rows) // TIMES))
    for row in [*rows[step - 1 : -1 : step], rows[-1]]:
        band = _ends(row) if row["low"] == row["low"] else "-"
        lines.append(
            f"  {row['hours']:>5.0f}{row['at_risk']:>12.0f}{_whole(row['still_in']):>10}{band:>8}"
            f"{_whole(row['share_recovered']):>24}"
        )
    median = "not reached" if times.median is None else f"{times.median:.0f} h"
    without = f" {times.left_out} jobs have no times." if times.left_out else ""
    return lines + _wrap(
        f"still in: if nothing but recovery could end a job (Kaplan-Meier); half would be out by: "
        f"{median}. The last column counts a lost string or hole as an end, a stop not.{without}"
    )


def _effects(record_odds: RecordOdds) -> list[str]:
    rows = tables.effect_rows(record_odds)
    lines = ["What goes with success (odds times; 1 is no effect):"] if rows else []
    for row in rows:
        ends = f"{row['low']:.2f}-{row['high']:.2f}"
        lines += _wrap(f"  {row['name']}: {row['ratio']:.2f}, {ends}, vs {row['against']}", 4)
    day = record_odds.fish.per_day
    if day is not None and not day.carried:
        lines += _wrap(
            "The factor per day, kinds of fish apart, is not told from 1: none is handed out."
        )
    return lines + _points(
        "Not carried by the records:",
        [f"{name}: {reason}" for name, reason in record_odds.effects.left_out],
    )


def _calibration(record_odds: RecordOdds) -> list[str]:
    checked = record_odds.calibration
    if checked is None:
        return _wrap("Odds stated beforehand: none in the records, so none checked.")
    lines = [
        "Odds stated beforehand against what came, in percent:",
        "  stated      runs  mean stated  came out    95 %",
    ]
    for row in tables.calibration_rows(record_odds):
        ends = f"{_whole(row['low'])} to {_whole(row['high'])}"
        lines.append(
            f"  {ends:<10}{row['runs']:>6}{_whole(row['stated']):>13}{_whole(row['rate']):>10}"
            f"{_ends(row, 'wilson'):>8}"
        )
    low, high = checked.share.wilson
    verdict = (
        "too hopeful" if checked.stated > high else "too gloomy" if checked.stated < low else "fair"
    )
    worse = "worse" if checked.brier > checked.brier_of_share else "better"
    return lines + _wrap(
        f"On average {verdict}: {_percent(checked.stated)} stated, {_percent(checked.share.rate)} "
        f"came. Score {checked.brier:.3f}, {worse} than the {checked.brier_of_share:.3f} of "
        f"saying {_percent(checked.share.rate)} each time (Brier; 0 is perfect)."
    )


def _one_out(record_odds: RecordOdds) -> list[str]:
    if not record_odds.one_out.scores:
        return _wrap("One job left out: there is but one job, so nothing can be checked.")
    lines = [
        "Each job predicted from the others (scores; lower is better):",
        "  odds                     Brier  log score",
    ]
    for row in tables.one_out_rows(record_odds):
        lines.append(f"  {row['rule']:<23}{row['brier']:>7.3f}{row['log']:>11.3f}")
    worst = max(
        tables.influence_rows(record_odds), key=lambda row: abs(row["odds"] - row["without"])
    )
    return lines + _wrap(
        f"The job that moves most: without {worst['job']} the odds of {worst['kind']} on all fish "
        f"are {_percent(worst['without'])} instead of {_percent(worst['odds'])}."
    )


def _outside(outside: Sequence[str]) -> list[str]:
    inside = "The case at hand lies inside the records, as far as they tell."
    return _points("The case at hand lies outside the records:", outside) or _wrap(inside)
