"""Amounts of one text in one unit, and numbers of any size with four digits."""

from __future__ import annotations

import math

from econ.reports.names import one_line

SCALES = ("", "thousand", "million", "billion", "trillion", "quadrillion")
LARGEST_SHOWN = 99_999.5


class Amounts:
    """Money in one unit, such that the largest [currency] has at most five digits.

    digits: that the largest has at least, decimals included; one more where changes, smaller
    than totals, are shown.
    """

    def __init__(self, *, largest: float, currency: str, digits: int = 4) -> None:
        power = 0
        while abs(largest) / 1000**power >= LARGEST_SHOWN and power < len(SCALES) - 1:
            power += 1
        self.currency = one_line(currency)
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


def rounded(value: float) -> str:
    """An amount to three digits, the last of them with a word for its size.

    >>> [rounded(value) for value in (2698141.0, 508_321.0, 9_616e3, 999_700.0, 12.0, 0.0)]
    ['2.70 million', '508 thousand', '9.62 million', '1.00 million', '12', '0']
    """
    size = abs(float(f"{value:.3g}"))
    power = 0
    while size / 1000**power >= 1000 and power < len(SCALES) - 1:
        power += 1
    if power == 0:
        return f"{value + 0.0:,.0f}" if size >= 0.5 else "0"
    scaled = size / 1000**power
    decimals = 2 if scaled < 10 else 1 if scaled < 100 else 0
    return f"{value / 1000.0**power:,.{decimals}f} {SCALES[power]}"


def whole(value: float) -> str:
    """An amount that is asked for or a limit in money: in full, rounded up.

    >>> whole(290_619.1), whole(0.0)
    ('290,620', '0')
    """
    return f"{math.ceil(value - 1e-6):,}"


def number(value: float) -> str:
    """A number of any unit to four digits.

    >>> [number(value) for value in (-0.0, 0.47132, 26.351, 5432.1, 1234567.0)]
    ['0', '0.4713', '26.35', '5,432', '1,235,000']
    """
    if abs(value) < 1000:
        return f"{value:z.4g}"
    return f"{float(f'{value:.4g}'):,.0f}"
