"""Words for a narrow screen: ASCII but for names, amounts in one unit, lines that fit."""

from __future__ import annotations

import textwrap

from econ.decision import Answer
from econ.reports.amounts import Amounts
from econ.reports.names import one_line

__all__ = ["WIDTH", "Money", "error_in_words", "more_runs", "one_line", "runs", "wrap"]

WIDTH = 64


class Money(Amounts):
    """Amounts of an answer in one unit for the whole text."""

    def __init__(self, answer: Answer) -> None:
        amounts = [max(row.p90, row.expected_cost) for row in answer.by_runs]
        largest = max([*amounts, *(run.cost for run in answer.ahead)])
        super().__init__(largest=largest, currency=answer.scenario.currency, digits=3)


def more_runs(count: int) -> str:
    """A number of runs still to make."""
    return "1 more run" if count == 1 else f"{count} more runs"


def runs(count: int) -> str:
    """A number of runs."""
    return "1 run" if count == 1 else f"{count} runs"


def wrap(words: str, hang: int = 0) -> list[str]:
    """Lines of at most WIDTH characters, all but the first indented by `hang`."""
    return textwrap.wrap(words, WIDTH, subsequent_indent=" " * hang) or [""]


def error_in_words(error: float) -> str:
    """A standard error, short."""
    return f"{error:.0f}" if error >= 9.5 else f"{error:.1f}"
