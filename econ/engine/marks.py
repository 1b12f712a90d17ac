"""Marks of a job as bits, and conditions on them.

What is true of a job between two runs is held in two whole numbers: `marks` has a bit for each
mark, first the two that are built in and then those of the file in their order; `made` has bit
k once run number k (from 0) was made. A condition holds where every bit that it needs is set
and none that bars it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bits = NDArray[np.int64]
Flags = NDArray[np.bool_]
DAMAGED, ATTACHED = 1, 2  # the top is damaged; the stuck string is whole to surface
BUILT_IN = {"damaged_top": DAMAGED, "attached": ATTACHED}
MADE = "made_"  # begins the mark that a run gives by being made, with its number from 1


@dataclass(frozen=True)
class Signs:
    """Marks and runs made, with the damage to the top among the marks; bits that broadcast."""

    marks: Bits
    made: Bits


@dataclass(frozen=True)
class Condition:
    """Bits that must be set, and bits of which none may be."""

    needs: int = 0
    needs_made: int = 0
    bars: int = 0
    bars_made: int = 0

    @classmethod
    def of(
        cls,
        own: Sequence[str],
        needs: Iterable[str] = (),
        bars: Iterable[str] = (),
        after: Iterable[int] = (),
    ) -> Condition:
        """From the words of a file. own: all marks of the file in their order; after: numbers
        (from 1) of runs that must have been made.

        >>> Condition.of(["clean"], needs=["clean", "made_2"], bars=["damaged_top"])
        Condition(needs=4, needs_made=2, bars=1, bars_made=0)
        """
        must, must_made = bits_of(needs, own)
        bar, bar_made = bits_of(bars, own)
        for run in after:
            must_made |= 1 << (run - 1)
        return cls(must, must_made, bar, bar_made)

    @property
    def binds(self) -> bool:
        """Whether there is a state in which it does not hold."""
        return bool(self.needs or self.needs_made or self.bars or self.bars_made)

    def holds(self, signs: Signs) -> Flags:
        """Where it holds."""
        held: Flags = np.ones((1, 1, 1), dtype=bool)
        for bits, needs, bars in (
            (signs.marks, self.needs, self.bars),
            (signs.made, self.needs_made, self.bars_made),
        ):
            if needs:
                held = held & ((bits & needs) == needs)
            if bars:
                held = held & ((bits & bars) == 0)
        return held


def bits_of(words: Iterable[str], own: Sequence[str]) -> tuple[int, int]:
    """Bits of some marks, and of the runs that they say were made. own: all marks of the file.

    >>> bits_of(["attached", "washed", "made_1"], ["attached", "washed"])
    (6, 1)
    """
    others = [word for word in own if word not in BUILT_IN]
    marks = made = 0
    for word in words:
        if word in BUILT_IN:
            marks |= BUILT_IN[word]
        elif word.startswith(MADE):
            made |= 1 << (int(word.removeprefix(MADE)) - 1)
        else:
            marks |= 1 << (len(BUILT_IN) + others.index(word))
    return marks, made


def words_of(marks: int, own: Sequence[str]) -> list[str]:
    """The words of marks that are set, those that are built in first.

    >>> words_of(6, ["attached", "washed"])
    ['attached', 'washed']
    """
    others = [word for word in own if word not in BUILT_IN]
    bits = BUILT_IN | {word: 1 << (len(BUILT_IN) + k) for k, word in enumerate(others)}
    return [word for word, bit in bits.items() if marks & bit]
