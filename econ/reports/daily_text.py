"""Daily reports as plain ASCII text, at most 64 columns wide."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from econ.records.daily_reports import DailyReports
from econ.reports.names import one_line
from econ.reports.tables import daily as tables
from econ.reports.tables.plain import Row

WIDTH = 64
BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:h|m|ft)\b|%)")  # a blank at which no line ends
TIED = "\u00a0"
LISTED = 15  # stretches, and things told, that are listed
MUCH = 0.1  # share of the hours that nothing is known of, from which it is warned of


def daily_text(daily: DailyReports, *, metric: bool = False) -> str:
    """The whole report; metric: speeds in m/h, hole sizes in mm."""
    parts = [
        _head(daily),
        _values(daily, metric=metric),
        _time(daily),
        _lost(daily),
        _stretches(daily, metric=metric),
        _told(daily),
        _wrap(
            "Past wells are no promise. The person in charge on the rig and local rules come first."
        ),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _wrap(words: str, hang: int = 0) -> list[str]:
    tied = BEFORE_UNIT.sub(TIED, one_line(words))
    lines = textwrap.wrap(tied, WIDTH, subsequent_indent=" " * hang) or [""]
    return [line.replace(TIED, " ") for line in lines]


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def _head(daily: DailyReports) -> list[str]:
    span = f", {daily.first[:10]} to {daily.last[:10]}" if daily.first else ""
    lines = _wrap(
        f"{_count(daily.reports, 'daily report')} of {_count(len(daily.wells), 'well')}{span}: "
        f"{daily.hours:,.0f} h."
    )
    lines += _wrap(
        f"Nothing is known of {100 * daily.unmatched:.1f} % of these hours: neither their code nor "
        "a word of theirs."
        + (
            " That is much: look at the codes of your reports, and give them by --words."
            if daily.unmatched > MUCH
            else ""
        )
    )
    return lines


def _values(daily: DailyReports, *, metric: bool) -> list[str]:
    rows = tables.value_rows(daily, metric=metric)
    if not rows:
        return _wrap("No trip, no stretch of work and no drilling could be measured.")
    lines = [
        "Single cases: P10, P50 and P90 are not exceeded by 1, 5 and",
        "9 cases of 10.",
        "                                   P10     P50     P90  cases",
    ]
    for row in rows:
        lines.append(
            f"{_value_words(row, metric=metric):<31}"
            f"{_number(row['p10']):>7} {_number(row['p50']):>7} {_number(row['p90']):>7}"
            f"{row['cases']:>7}"
        )
    return lines


def _value_words(row: Row, *, metric: bool) -> str:
    words = tables.VALUE_WORDS[row["name"]]
    if row["hole_size"] is not None:
        words = f"{words} {row['hole_size']:.4g} {'mm' if metric else 'in'}"
    return f"{words}, {row['unit']}"[:31]


def _number(value: float) -> str:
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"


def _time(daily: DailyReports) -> list[str]:
    lines = [
        "Where the days went. Fishing: from the first to the last",
        "hour of a job. After it: plug, sidetrack, hole drilled again.",
        "days                          by plan fishing after it  share",
    ]
    rows = sorted(tables.time_rows(daily), key=lambda row: -float(row["hours"]))
    for row in rows:
        days = [f"{row[part] / 24:.1f}" for part in ("plan", "fishing", "consequence")]
        words = tables.SORT_WORDS[row["sort"]]
        lines.append(f"{words:<30}{days[0]:>7}{days[1]:>8}{days[2]:>9}{100 * row['share']:>6.1f}%")
    whole = [sum(row[part] for row in rows) / 24 for part in ("plan", "fishing", "consequence")]
    lines.append(f"{'All':<30}{whole[0]:>7.1f}{whole[1]:>8.1f}{whole[2]:>9.1f}{100:>6.1f}%")
    return lines


def _lost(daily: DailyReports) -> list[str]:
    return _wrap(
        f"Lost to weather {100 * daily.weather:.1f} % of the hours, to repairs and maintenance "
        f"{100 * daily.repair:.1f} %."
    )


def _stretches(daily: DailyReports, *, metric: bool) -> list[str]:
    rows = tables.stretch_rows(daily, metric=metric)
    if not rows:
        return _wrap("No stuck pipe, fishing, cutting, kick-off plug or sidetrack was found.")
    lines = _wrap(
        f"{_count(daily.jobs, 'job')} of stuck pipe, fishing or cutting, in "
        f"{_count(len(rows), 'stretch').replace('stretchs', 'stretches')} with their plugs and "
        "sidetracks. Kind and outcome are proposed by words; a person who knows the job marks the "
        "draft (--runs):"
    )
    for row in rows[:LISTED]:
        unit = "m" if metric else "ft"
        depth = "" if row["depth"] is None else f" at {row['depth']:,.0f} {unit}"
        proposed = f": {row['proposed_kind']}, {row['proposed_outcome']}?"
        of_job = "part" if row["what"] in ("plug", "sidetrack") else "run"
        head = f"- {row['job']}, {of_job} {row['run']}, {row['start'][:10]}, {row['what']}{depth}, "
        whole = f"{head}{row['hours']:.1f} h{proposed if row['proposed_kind'] else ''}"
        lines += _wrap(whole, 2)
    if len(rows) > LISTED:
        lines.append(f"and {len(rows) - LISTED} more")
    return lines


def _told(daily: DailyReports) -> list[str]:
    if not daily.told:
        return []
    words: Sequence[str] = [str(each) for each in daily.told]
    lines = ["Not taken, or taken otherwise than it stands there:"]
    lines += [line for each in words[:LISTED] for line in _wrap(f"- {each}", 2)]
    return lines + ([f"and {len(words) - LISTED} more"] if len(words) > LISTED else [])
