"""The search of orders of the runs as plain ASCII text, a section of the answer."""

from __future__ import annotations

import textwrap

from econ.decision.order import Program, ProgramSearch
from econ.reports.amounts import Amounts
from econ.reports.words import WIDTH, one_line, wrap

RUNS_AT = 32  # column of the table where the runs stand


def order_section(found: ProgramSearch) -> list[str]:
    """The section, by lines; empty where no run is left to make."""
    rows = list(found.programs)
    if not any(program.runs for program in (*rows, found.listed)) and found.looked_at == 1:
        return []
    if found.listed.runs not in [program.runs for program in rows]:
        rows.append(found.listed)
    largest = max(program.expected_cost for program in rows)
    money = Amounts(largest=largest, currency=found.scenario.currency)
    return [
        *_verdict(found, money),
        *_reach(found),
        f"    cost   +-se   saves   +-se  runs, then stop ({money.unit})",
        *(line for program in rows for line in _row(found, program, money)),
        *_notes(found),
    ]


def _verdict(found: ProgramSearch, money: Amounts) -> list[str]:
    listed, gain = found.listed, found.gain
    as_listed = f"the order as listed at its best limit ({_made(listed)})"
    if found.better:
        lines = wrap(
            f"ORDER OF RUNS: {_made(found.best)} and then a stop would save "
            f"{money.full(gain.value)}{_error(found, gain.error, money)} against {as_listed}."
        )
        for number in found.best.runs:
            name = one_line(found.scenario.run[number - 1].name)
            lines += wrap(f"{number:>4}  {name}", hang=6)
        if found.best.runs == found.listed.runs[: len(found.best.runs)] and found.best.runs:
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
    if found.n and found.candidate.runs != listed.runs:
        lines += wrap(
            f"{_made(found.candidate).capitalize()} would save {money.short(gain.value)}"
            f"{_error(found, gain.error, money)}: less than can be told apart."
        )
    return lines


def _reach(found: ProgramSearch) -> list[str]:
    """How far the search went, and what it may have missed."""
    count = f"{found.looked_at:,} program{'' if found.looked_at == 1 else 's'}"
    if found.exact:
        return wrap(f"All programs were worked out: {count}.")
    return wrap(
        f"NOT ALL PROGRAMS: {count} worked out, the most promising only. One that was not worked "
        "out may cost less."
    )


def _row(found: ProgramSearch, program: Program, money: Amounts) -> list[str]:
    mark = ">" if program.runs == found.best.runs else " "
    error, saving_error = (
        _small(each, money) if found.n else "-"
        for each in (program.standard_error, program.saving_error)
    )
    cells = f"{mark}{money.short(program.expected_cost):>7}{error:>7}"
    cells += f"{money.short(program.saving):>8}{saving_error:>7}  "
    words = ", ".join(map(str, program.runs)) or "none"
    if program.runs == found.listed.runs:
        words += " (as listed)"
    lines = textwrap.wrap(words, WIDTH - RUNS_AT)
    return [f"{cells:<{RUNS_AT}}{lines[0]}", *(" " * RUNS_AT + line for line in lines[1:])]


def _notes(found: ProgramSearch) -> list[str]:
    lines = wrap("saves: against the order as listed at its best limit, on the same draws.")
    if found.n:
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


def _error(found: ProgramSearch, error: float, money: Amounts) -> str:
    return f" (+-{_small(error, money)})" if found.n else ""


def _small(error: float, money: Amounts) -> str:
    """An error; one that rounds to nothing is not nothing."""
    shown = money.short(error)
    if error > 0 and not shown.strip("0."):
        return f"<{money.short(0.1**money.decimals * money.scale)}"
    return shown
