"""The search of orders of the runs as plain ASCII text, a section of the answer."""

from __future__ import annotations

import textwrap

from econ.decision.order import Program, ProgramSearch
from econ.reports.amounts import Amounts
from econ.reports.words import WIDTH, one_line, wrap

RUNS_AT = 32  # column of the table where the runs stand


def order_section(search: ProgramSearch) -> list[str]:
    """The section, by lines; empty where no run is left to make."""
    rows = list(search.programs)
    if not any(program.runs for program in (*rows, search.listed)) and search.looked_at == 1:
        return []
    if search.listed.runs not in [program.runs for program in rows]:
        rows.append(search.listed)
    largest = max(program.expected_cost for program in rows)
    money = Amounts(largest=largest, currency=search.scenario.currency)
    return [
        *_verdict(search, money),
        *_reach(search),
        f"    cost   +-se   saves   +-se  runs, then stop ({money.unit})",
        *(line for program in rows for line in _row(search, program, money)),
        *_notes(search),
    ]


def _verdict(search: ProgramSearch, money: Amounts) -> list[str]:
    listed, gain = search.listed, search.gain
    as_listed = f"the order as listed at its best limit ({_made(listed)})"
    if search.better:
        lines = wrap(
            f"ORDER OF RUNS: {_made(search.best)} and then a stop would save "
            f"{money.full(gain.value)}{_error(search, gain.error, money)} against {as_listed}."
        )
        for number in search.best.runs:
            name = one_line(search.scenario.run[number - 1].name)
            lines += wrap(f"{number:>4}  {name}", hang=6)
        if search.best.runs == search.listed.runs[: len(search.best.runs)] and search.best.runs:
            lines += wrap(
                "These are the first runs as listed: what is saved are rentals called out, for "
                "runs that are then not made."
            )
        return lines + wrap(
            "The rest of this answer keeps the order as listed. To take the other, list the runs "
            "so, and count the numbers in after and call_out anew. Only what the file says is "
            "known: a run that must follow another one needs after."
        )
    lines = wrap(f"ORDER OF RUNS: no program is better than {as_listed}.")
    if search.n and search.candidate.runs != listed.runs:
        lines += wrap(
            f"{_made(search.candidate).capitalize()} would save {money.short(gain.value)}"
            f"{_error(search, gain.error, money)}: less than can be told apart."
        )
    return lines


def _reach(search: ProgramSearch) -> list[str]:
    """How far the search went, and what it may have missed."""
    count = f"{search.looked_at:,} program{'' if search.looked_at == 1 else 's'}"
    if search.exact:
        return wrap(f"All programs were worked out: {count}.")
    return wrap(
        f"NOT ALL PROGRAMS: {count} worked out, the most promising only. One that was not worked "
        "out may cost less."
    )


def _row(search: ProgramSearch, program: Program, money: Amounts) -> list[str]:
    mark = ">" if program.runs == search.best.runs else " "
    error, saving_error = (
        _small(each, money) if search.n else "-"
        for each in (program.standard_error, program.saving_error)
    )
    cells = f"{mark}{money.short(program.expected_cost):>7}{error:>7}"
    cells += f"{money.short(program.saving):>8}{saving_error:>7}  "
    words = ", ".join(map(str, program.runs)) or "none"
    if program.runs == search.listed.runs:
        words += " (as listed)"
    lines = textwrap.wrap(words, WIDTH - RUNS_AT)
    return [f"{cells:<{RUNS_AT}}{lines[0]}", *(" " * RUNS_AT + line for line in lines[1:])]


def _notes(search: ProgramSearch) -> list[str]:
    lines = wrap("saves: against the order as listed at its best limit, on the same draws.")
    if search.n:
        lines += wrap(
            "Programs were chosen on other draws than those they are valued on, so the saving is "
            "not flattered by the choice."
        )
    return lines


def _made(program: Program) -> str:
    """The runs of a program in a sentence."""
    if not program.runs:
        return "no run"
    numbers = ", ".join(map(str, program.runs))
    return f"run {numbers}" if len(program.runs) == 1 else f"runs {numbers}"


def _error(search: ProgramSearch, error: float, money: Amounts) -> str:
    return f" (+-{_small(error, money)})" if search.n else ""


def _small(error: float, money: Amounts) -> str:
    """An error; one that rounds to nothing is not nothing."""
    shown = money.short(error)
    if error > 0 and not shown.strip("0."):
        return f"<{money.short(0.1**money.decimals * money.scale)}"
    return shown
