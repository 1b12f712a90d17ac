"""Numbers that carry the formula they come from, for tables that a reader can recompute.

A `Term` is a value and the text that gives it in a sheet; arithmetic on terms makes terms, so
that value and formula cannot part. A `Cell` is a term with a place of its own: where it stands
is settled by the layout, which is then asked for its address. Only functions are used that
Excel, LibreOffice and the `formulas` library share. A quotient by 0 is nan: it may stand in the
branch of `when` that is not taken, as in a sheet.

Amounts e_1, e_2, ... in whole units that add up (`whole`) are the rises of the rounded sum so far,

    shown_i = round(e_1 + ... + e_i) - round(e_1 + ... + e_(i-1))

so that each is off by less than a unit, and what is shown sums to the rounded sum.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

Value = float | str | bool
HALF = 0.500001  # of a last digit: what lies on the half goes up, however it is written
ON_HALF = 1e-4  # of a unit: what lies so near below a half goes up, as each program writes it
MOST = 1e15  # of an amount or a number of days that is typed
Address = Callable[["Cell | Block"], str]

COMPARING, JOINING, ADDING, MULTIPLYING, ATOM = range(5)  # what binds how tightly


class Term:
    """A value and the parts of its text: words, terms and blocks."""

    def __init__(self, value: Value, parts: Sequence[object], binding: int = ATOM) -> None:
        self.value = value
        self.parts = tuple(parts)
        self.binding = binding

    @property
    def number(self) -> float:
        """The value as a number."""
        assert not isinstance(self.value, str)
        return float(self.value)

    def text(self, address: Address) -> str:
        """The formula, without the leading sign; `address` gives that of a cell or block."""
        found = ""
        for part in self.parts:
            if isinstance(part, Cell | Block):
                found += address(part)
            elif isinstance(part, Term):
                found += part.text(address)
            else:
                found += str(part)
        return found

    def __add__(self, other: Operand) -> Term:
        return _two(self, "+", other, ADDING, lambda a, b: a + b)

    def __sub__(self, other: Operand) -> Term:
        return _two(self, "-", other, ADDING, lambda a, b: a - b)

    def __rsub__(self, other: float) -> Term:
        return _term(other) - self

    def __mul__(self, other: Operand) -> Term:
        return _two(self, "*", other, MULTIPLYING, lambda a, b: a * b)

    def __rmul__(self, other: float) -> Term:
        return _term(other) * self

    def __truediv__(self, other: Operand) -> Term:
        return _two(self, "/", other, MULTIPLYING, lambda a, b: a / b if b else math.nan)

    def __gt__(self, other: Operand) -> Term:
        return _two(self, ">", other, COMPARING, operator.gt)

    def __lt__(self, other: Operand) -> Term:
        return _two(self, "<", other, COMPARING, operator.lt)

    def __or__(self, other: Term) -> Term:
        return Term(bool(self.value) or bool(other.value), ["OR(", self, ",", other, ")"])

    def __abs__(self) -> Term:
        return Term(abs(self.number), ["ABS(", self, ")"])


Operand = Term | float


@dataclass(frozen=True)
class Bounds:
    """What may be typed into a cell: a number from low to high, whole or not, or one of some words;
    name: of the cell, where it is bad."""

    name: str
    low: float = 0.0
    high: float = MOST
    whole: bool = False
    words: tuple[str, ...] = ()

    def fault(self, cell: Cell) -> Term:
        """What is wrong with what a reader typed; no words where nothing is."""
        value, low, high = cell.value, self.low, self.high
        if self.words:
            unknown = "" if value in self.words else "is an unknown word"
            each = ",".join(f"{{}}={_written(word)}" for word in self.words).split("{}")
            return Term(unknown, ["IF(OR(", *_between(cell, each), '),"","is an unknown word")'])
        said = ""
        if isinstance(value, str):
            said = "is no number" if value else "is blank"
        elif not low <= value <= high:
            said = f"is under {low:g}" if value < low else f"is over {high:g}"
        elif self.whole and value != math.floor(value):
            said = "is not whole"
        whole = 'IF({}<>INT({}),"is not whole","")' if self.whole else '""'
        text = (
            'IF(ISBLANK({}),"is blank",IF(ISNUMBER({}),'
            f'IF({{}}<{low!r},"is under {low:g}",IF({{}}>{high!r},"is over {high:g}",{whole})),'
            '"is no number"))'
        )
        return Term(said, _between(cell, text.split("{}")))


class Cell(Term):
    """A term with a place: a constant, a formula, or an input that a reader may change.

    name: under which formulas know it, if it has one; bounds: of an input that counts.
    """

    def __init__(
        self,
        content: Term | Value,
        bounds: Bounds | None = None,
        *,
        name: str | None = None,
        is_input: bool = False,
    ) -> None:
        self.formula = content if isinstance(content, Term) else None
        super().__init__(content.value if isinstance(content, Term) else content, [self])
        self.name = name
        self.bounds = bounds
        self.is_input = is_input or bounds is not None


class Block:
    """Cells that stand one below the other, or beside one another, in this order."""

    def __init__(self, cells: Iterable[Cell]) -> None:
        self.cells = tuple(cells)


def total(cells: Iterable[Cell]) -> Term:
    """Sum of the numbers of a block, 0 for an empty one; words count for nothing."""
    block = Block(cells)
    if not block.cells:
        return _term(0)
    numbers = [cell.number for cell in block.cells if not isinstance(cell.value, str)]
    return Term(_sum(numbers), ["SUM(", block, ")"])


def sum_of(terms: Iterable[Operand]) -> Term:
    """Sum of terms that stand anywhere; 0 for none."""
    each = [_term(term) for term in terms]
    found = each[0] if each else _term(0)
    for term in each[1:]:
        found = found + term
    return found


def sum_where(keys: Sequence[Cell], key: Term | Value, values: Sequence[Cell]) -> Term:
    """Sum of the values whose key is `key`; words count for nothing."""
    wanted = key.value if isinstance(key, Term) else key
    chosen = [v for k, v in zip(keys, values, strict=True) if k.value == wanted]
    value = _sum(cell.number for cell in chosen if not isinstance(cell.value, str))
    return Term(value, ["SUMIF(", Block(keys), ",", _term(key), ",", Block(values), ")"])


def product_of(terms: Iterable[Term]) -> Term:
    """Product of terms that stand anywhere; 1 for none."""
    each = list(terms)
    found = each[0] if each else _term(1)
    for term in each[1:]:
        found = found * term
    return found


def sum_product(one: Sequence[Cell], other: Sequence[Cell]) -> Term:
    """Sum of the products of two blocks of numbers."""
    found = _sum(a.number * b.number for a, b in zip(one, other, strict=True))
    return Term(found, ["SUMPRODUCT(", Block(one), ",", Block(other), ")"])


def greater(one: Operand, other: Operand) -> Term:
    """The greater of two values."""
    pair = _term(one), _term(other)
    return Term(max(pair[0].number, pair[1].number), ["MAX(", pair[0], ",", pair[1], ")"])


def least(cells: Sequence[Cell]) -> Term:
    """The least of a block."""
    return Term(min(cell.number for cell in cells), ["MIN(", Block(cells), ")"])


def same(value: Term, other: Term | Value) -> Term:
    """Whether two values, or a value and a word, are the same."""
    term = other if isinstance(other, Term) else _term(other)
    return Term(value.value == term.value, [value, "=", term], COMPARING)


def joined(pieces: Iterable[Term | str]) -> Term:
    """Words and terms one after another, as a text."""
    parts: list[object] = []
    found = ""
    for piece in pieces:
        term = _term(piece)
        found += str(term.value)
        parts += (["&"] if parts else []) + _bracketed(term, term.binding < ATOM)
    return Term(found, parts or ['""'], JOINING)


def number_in_words(value: Term, decimals: int = 0, *, times: int = 1, plus: str = "") -> Term:
    """A number times another as a text with its decimals, half a unit up, and its sign."""
    scale = 10**decimals
    cut = math.floor(abs(value.number) * times * scale + HALF)
    by = f"*{times * scale}" if times * scale > 1 else ""
    parts = ["FIXED(INT(ABS(", value, f"){by}+{HALF!r})/{scale},{decimals})"]
    sign = when(value < -0.5 / (times * scale), "-", plus)
    return joined([sign, Term(f"{cut / scale:,.{decimals}f}", parts)])


def share_in_words(value: Term, *, plus: str = "") -> Term:
    """A share as a text in tenths of a percent."""
    return joined([number_in_words(value, 1, times=100, plus=plus), " %"])


def at_least_of(keys: Sequence[Cell], values: Sequence[Cell]) -> Term:
    """The first key with the least of some values."""
    place = min(range(len(values)), key=lambda number: values[number].number)
    found = ["INDEX(", Block(keys), ",MATCH(", least(values), ",", Block(values), ",0))"]
    return Term(keys[place].value, found)


def to_decimals(value: Term, decimals: int = 0) -> Term:
    """A value to the last decimal. Half a unit, and a ten-thousandth less than half, goes up: what
    lies on the half would else go up or down as each program writes the number in binary."""
    shifted = value + ON_HALF / 10**decimals
    return Term(round(shifted.number, decimals), ["ROUND(", shifted, f",{decimals})"])


def whole(exact: Sequence[Cell]) -> list[Cell]:
    """Amounts in whole units, one after another. Those before rounding stand in one column.

    >>> [cell.number for cell in whole([Cell(0.4), Cell(0.4), Cell(0.4)])]
    [0.0, 1.0, 0.0]
    """
    so_far = [to_decimals(total(exact[:number])) for number in range(1, len(exact) + 1)]
    return [Cell(now - so_far[number - 1] if number else now) for number, now in enumerate(so_far)]


def quotient(value: Operand, by: Term) -> Term:
    """A value over another that is 0 or more; 0 where that is 0."""
    return when(by > 0.0, _term(value) / by, 0.0)


def when(condition: Term, then: Term | Value, other: Term | Value) -> Term:
    """One term or the other."""
    yes, no = (each if isinstance(each, Term) else _term(each) for each in (then, other))
    value = yes.value if condition.value else no.value
    return Term(value, ["IF(", condition, ",", yes, ",", no, ")"])


def _two(
    left: Operand,
    sign: str,
    right: Operand,
    binding: int,
    work: Callable[[float, float], float],
) -> Term:
    one, two = _term(left), _term(right)
    # The right side needs brackets at the same level as well: a - (b - c), a / (b * c).
    parts = [*_bracketed(one, one.binding < binding), sign]
    parts += _bracketed(two, two.binding <= binding)
    return Term(work(one.number, two.number), parts, binding)


def _bracketed(term: Term, needed: bool) -> list[object]:
    return ["(", term, ")"] if needed else [term]


def _term(value: Term | Value) -> Term:
    return value if isinstance(value, Term) else Term(value, [_written(value)])


def _between(cell: Cell, words: Sequence[str]) -> Sequence[object]:
    """Words with the cell between each two of them."""
    return [part for each in words for part in (cell, each)][1:]


def _written(value: Value) -> str:
    """A constant in a formula."""
    if isinstance(value, str):
        return '"' + value.replace('"', '""') + '"'
    if isinstance(value, bool):
        return "TRUE()" if value else "FALSE()"
    text = repr(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(value)
    text = text.replace("e", "E")
    return f"({text})" if value < 0 else text


def _sum(values: Iterable[float]) -> float:
    """Added one after another, as a sheet adds."""
    found = 0.0
    for value in values:
        found += value
    return found
