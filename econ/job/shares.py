"""An amount shared by interests, to the last decimal that is paid, and calls one after another.

With U the amount in units of the last decimal (half a unit goes up), f_i the interest of partner i
over the sum of all, and q_i = U f_i what is owed before rounding:

    largest remainder      n_i = floor(q_i);  the U - sum of n_i units that are left go, one each,
                           to the largest q_i - n_i, of equals to the first in the file
    the taker takes rest   n_i = q_i rounded, half up;  the taker pays U - sum of the others

So the shares sum to U. A remainder counts to a ten-thousandth of a unit: what differs by less is
equal, because a sheet with sixteen digits cannot tell it. An amount below 0 is shared as one above.

Calls one after another are differences of shares of the sum so far,

    call_i(w) = n_i(G_1 + ... + G_w) - n_i(G_1 + ... + G_(w-1)),

of q_i = the sum of U f_i over the branches of a job, where their interests differ. So roundings
do not pile up: at every time a partner has paid its share of all that was called.
Where a call is a few units a single one of them may so be paid back.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import floor
from typing import Literal

Rounding = Literal["largest_remainder", "operator_takes_rest"]
TELLS = 4  # decimals of a unit that a remainder is counted to


def units(amount: float, *, decimals: int) -> int:
    """An amount in units of its last decimal, half a unit up.

    >>> units(1.005, decimals=2), units(-1.005, decimals=2), units(2.5, decimals=0)
    (101, -100, 3)
    """
    exact = Fraction(str(amount)) * Fraction(10) ** decimals
    return floor(exact + Fraction(1, 2))


def taker(interests: Sequence[float], operator: int | None) -> int:
    """Who takes the rest: the operator, without one the largest interest, of equals the first."""
    if operator is not None:
        return operator
    return max(range(len(interests)), key=lambda number: interests[number])


def shared(whole: int, interests: Sequence[float], *, rest_to: int | None = None) -> list[int]:
    """Shares of a `whole` in units. interests: any that are 0 or more and not all 0; rest_to:
    number of the partner who takes the rest, None for the largest remainder.

    >>> shared(100, [1, 1, 1]), shared(-100, [1, 1, 1]), shared(100, [1, 1, 1], rest_to=2)
    ([34, 33, 33], [-34, -33, -33], [33, 33, 34])
    """
    if whole < 0:
        return [-share for share in shared(-whole, interests, rest_to=rest_to)]
    parts = [Fraction(str(interest)) for interest in interests]
    total = sum(parts)
    return _given_out(whole, [whole * part / total for part in parts], rest_to)


def _given_out(whole: int, owed: Sequence[Fraction], rest_to: int | None) -> list[int]:
    """Units of a whole that is 0 or more, by what is owed before rounding."""
    if rest_to is not None:
        found = [floor(each + Fraction(1, 2)) for each in owed]
        found[rest_to] += whole - sum(found)
        return found
    found = [floor(each) for each in owed]
    remainder = [_to_tell(each - low) for each, low in zip(owed, found, strict=True)]
    order = sorted(range(len(found)), key=lambda number: (-remainder[number], number))
    for number in order[: whole - sum(found)]:
        found[number] += 1
    return found


def calls(
    gross: Sequence[Sequence[float]],
    interests: Sequence[Sequence[float]],
    *,
    decimals: int,
    rest_to: int | None = None,
) -> list[list[float]]:
    """Calls of each partner, one for each time, by differences of shares of the sums so far.

    gross: for each branch of the job, such as fishing and fallback, its amounts [currency] at the
    same times, 0 or more; interests: of each branch, which sum to anything above 0. The calls of
    one time sum to the difference of the rounded sums of all branches.

    >>> calls([[10.0, 10.0, 10.0]], [[1, 1, 1]], decimals=0)
    [[4.0, 3.0, 3.0], [3.0, 4.0, 3.0], [3.0, 3.0, 4.0]]
    """
    partners = len(interests[0])
    parts = []
    for stated in interests:
        exact = [Fraction(str(each)) for each in stated]
        parts.append([each / sum(exact) for each in exact])
    before = [0] * partners
    found: list[list[float]] = [[] for _ in range(partners)]
    so_far = [Fraction(0)] * len(gross)
    for amounts in zip(*gross, strict=True):
        so_far = [old + Fraction(str(new)) for old, new in zip(so_far, amounts, strict=True)]
        exact_units = sum(so_far) * 10**decimals
        whole = floor(exact_units + Fraction(1, 2))
        owed = [
            sum((part[number] * own for part, own in zip(parts, so_far, strict=True)), Fraction(0))
            for number in range(partners)
        ]
        total = sum(owed, Fraction(0))
        scaled = [each * whole / total if total else total for each in owed]
        now = _given_out(whole, scaled, rest_to)
        for number, (new, old) in enumerate(zip(now, before, strict=True)):
            found[number].append((new - old) / 10**decimals)
        before = now
    return found


def _to_tell(remainder: Fraction) -> Decimal:
    """A remainder to the decimals that count."""
    value = Decimal(remainder.numerator) / Decimal(remainder.denominator)
    return value.quantize(Decimal(1).scaleb(-TELLS), rounding=ROUND_HALF_UP)
