"""What `econ log` says: the row as written or taken back, and what that changed."""

from __future__ import annotations

import re

from econ import decision
from econ.decision import Answer, Status
from econ.decision.run_log import standing
from econ.engine.case import ENDS
from econ.reports import sentences
from econ.reports.morning_text import changes, changes_back
from econ.reports.tables.situation import Situation
from econ.reports.words import WIDTH, Money, one_line, wrap
from econ.scenario import Scenario, ScenarioError
from econ.scenario.log_entry import Added, Taken
from econ.scenario.run_log import LoggedRun, parse_log

PLANS = ("rule", "plan", "plan_stops")  # sentences on what is cheaper than the limit


def added_text(added: Added, answer: Answer, *, file: str) -> str:
    """A row that was written to a log, and what it changed. file: what the log is called. The row
    itself is empty where it is shown in another way."""
    money = Money(answer)
    lines = wrap(f"ADDED TO {one_line(file)}, row {answer.log[-1].row}{':' if added.row else '.'}")
    lines += _as_it_stands(added.row) if added.row else []
    if added.columns:
        names = ", ".join(added.columns)
        plural = "s" if len(added.columns) > 1 else ""
        words = f"The header has {len(added.columns)} column{plural} more for it: {names}."
        if added.rows_before:
            words += " The rows before it have an empty cell there, and are else as they were."
        lines += wrap(words)
    lines += ["", *_verdict(answer, money)]
    if answer.ended is None and (told := changes(answer, money)):
        lines += ["", *told]
    return "\n".join([*lines, *_warnings(answer)]) + "\n"


def undone_text(
    taken: Taken,
    *,
    file: str,
    beside: str,
    answer: Answer | None,
    row: LoggedRun | None,
    before: Status | None,
) -> str:
    """A row that was taken back, and what that changed. beside: the file it was moved to; answer:
    from the rows that are left, None where they have faults; row, before: what was taken and where
    the job stood with it, None where that cannot be told."""
    lines = wrap(f"TAKEN BACK from {one_line(file)}, its last row{':' if taken.row else '.'}")
    lines += _as_it_stands(taken.row) if taken.row else []
    lines += wrap(f"It stands in {one_line(beside)} now.")
    if answer is None:
        lines += wrap("The rows that are left have faults: econ answer --log names them.")
        return "\n".join(lines) + "\n"
    money = Money(answer)
    lines += ["", *_verdict(answer, money)]
    if row is not None and before is not None and row.outcome not in ENDS:
        lines += ["", *changes_back(answer, row, before, money)]
    return "\n".join(lines) + "\n"


def taken_back_text(scenario: Scenario, text: str, taken: Taken, *, file: str, beside: str) -> str:
    """What taking the last row of a log back changes, as far as its rows can be answered. text: of
    the log as it was; file, beside: as in `undone_text`."""
    found, row, before = None, None, None
    try:
        found = decision.answer(scenario, parse_log(taken.text, scenario))
        rows = parse_log(text, scenario)
        before, row = standing(scenario, rows, n=found.draws), rows[-1]
    except ScenarioError:  # of rows that are left, or of the one that goes: it may be why it goes
        pass
    return undone_text(taken, file=file, beside=beside, answer=found, row=row, before=before)


def _as_it_stands(row: str) -> list[str]:
    """A row of a file, broken after a comma or a blank, so that no number is broken."""
    width, lines = WIDTH - 2, [""]
    for cell in re.findall(rf"[^, ]{{0,{width - 1}}}[, ]|.{{1,{width}}}", one_line(row.rstrip())):
        if len(lines[-1]) + len(cell) > width:
            lines.append("")
        lines[-1] += cell
    return [f"  {line}" for line in lines]


def _verdict(answer: Answer, money: Money) -> list[str]:
    said = sentences.verdict(Situation.of_answer(answer), money, terminal=True)
    also = [line for name, words in said.named if name in PLANS for line in wrap(words)]
    return [*wrap(said.headline), *wrap(said.cost), *also]


def _warnings(answer: Answer) -> list[str]:
    """What is wrong with the last entry, and with the money of all of them."""
    last, lines = answer.log[-1], []
    if last.warning:
        lines += wrap(f"note: {last.warning}")
    if answer.limits_then[-1].beyond:
        lines += wrap(f"note: this run was made {sentences.TEMPLATES['beyond_limit']}.")
        lines += wrap(sentences.TEMPLATES["beyond_limit_is"])
    if too_much := sentences.overspent(answer):
        lines += wrap(too_much)
    return ["", *lines] if lines else []
