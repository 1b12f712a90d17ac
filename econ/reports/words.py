"""Words for a narrow screen: plain ASCII, amounts in one unit, lines that fit a phone."""

from __future__ import annotations

import textwrap

from econ.decision import Answer
from econ.reports.amounts import Amounts, ascii_only

__all__ = ["WIDTH", "Money", "ascii_only", "error_in_words", "more_runs", "runs", "wrap"]

WIDTH = 64


class Money(Amounts):
    """Amounts of an answer in one unit for the whole text.

    plain: whether the currency is written in ASCII, as on a terminal.
    """

    def __init__(self, answer: Answer, *, plain: bool = True) -> None:
        amounts = [max(row.p90, row.expected_cost) for row in answer.by_runs]
        largest = max([*amounts, *(run.cost for run in answer.ahead)])
        super().__init__(largest=largest, currency=answer.scenario.currency, digits=3, plain=plain)


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
