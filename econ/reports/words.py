"""Words for a narrow screen: plain ASCII, amounts in one unit, lines that fit a phone."""

from __future__ import annotations

import textwrap
import unicodedata

from econ.decision import Answer

WIDTH = 64
SCALES = ("", "thousand", "million", "billion", "trillion", "quadrillion")
LARGEST_SHOWN = 99_999.5


def ascii_only(words: str) -> str:
    """Words in printable ASCII: accents dropped, anything else as a question mark."""
    plain = unicodedata.normalize("NFKD", words)
    kept = [char for char in plain if not unicodedata.combining(char)]
    return "".join(char if " " <= char <= "~" else "?" for char in kept)


class Money:
    """Amounts in one unit for the whole text, the largest with at most five digits."""

    def __init__(self, answer: Answer) -> None:
        amounts = [max(row.p90, row.expected_cost) for row in answer.by_runs]
        largest = max([*amounts, *(run.cost for run in answer.ahead)])
        power = 0
        while largest / 1000**power >= LARGEST_SHOWN and power < len(SCALES) - 1:
            power += 1
        self.currency = ascii_only(answer.scenario.currency)
        self.scale = 1000.0**power
        self.unit = f"{SCALES[power]} {self.currency}".strip()
        self.decimals = max(0, 3 - len(f"{largest / self.scale:.0f}"))

    def short(self, value: float) -> str:
        """Without the unit."""
        return f"{value / self.scale:,.{self.decimals}f}"

    def full(self, value: float) -> str:
        """With the unit."""
        return f"{self.short(value)} {self.unit}"

    def shows(self, value: float) -> bool:
        """Whether an amount is more than half of the last digit shown."""
        return bool(value > 0.5 * self.scale * 0.1**self.decimals)


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
