"""Amounts of one text in one unit, and numbers of any size with four digits."""

from __future__ import annotations

import unicodedata

SCALES = ("", "thousand", "million", "billion", "trillion", "quadrillion")
LARGEST_SHOWN = 99_999.5


def ascii_only(words: str) -> str:
    """Words in printable ASCII: accents dropped, anything else as a question mark."""
    plain = unicodedata.normalize("NFKD", words)
    kept = [char for char in plain if not unicodedata.combining(char)]
    return "".join(char if " " <= char <= "~" else "?" for char in kept)


class Amounts:
    """Money in one unit, such that the largest [currency] has at most five digits.

    digits: that the largest has at least, decimals included; one more where changes, smaller
    than totals, are shown. plain: whether the currency is written in ASCII.
    """

    def __init__(
        self, *, largest: float, currency: str, digits: int = 4, plain: bool = True
    ) -> None:
        power = 0
        while abs(largest) / 1000**power >= LARGEST_SHOWN and power < len(SCALES) - 1:
            power += 1
        self.currency = ascii_only(currency) if plain else currency
        self.scale = 1000.0**power
        self.unit = f"{SCALES[power]} {self.currency}".strip()
        self.decimals = max(0, digits - len(f"{abs(largest) / self.scale:.0f}"))

    def short(self, value: float) -> str:
        """Without the unit; a value that rounds to nothing has no sign."""
        shown = f"{value / self.scale:,.{self.decimals}f}"
        return shown.removeprefix("-") if not shown.strip("-0.,") else shown

    def shows(self, value: float) -> bool:
        """Whether an amount is more than half of the last digit shown."""
        return bool(value > 0.5 * self.scale * 0.1**self.decimals)

    def full(self, value: float) -> str:
        """With the unit."""
        return f"{self.short(value)} {self.unit}"


def number(value: float) -> str:
    """A number of any unit to four digits.

    >>> [number(value) for value in (0.0, 0.47132, 26.351, 5432.1, 1234567.0)]
    ['0', '0.4713', '26.35', '5,432', '1,235,000']
    """
    if abs(value) < 1000:
        return f"{value:.4g}"
    return f"{float(f'{value:.4g}'):,.0f}"
