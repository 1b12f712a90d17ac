"""Marks: words of the file that are true of the job or not, and the words built in.

    attached     the stuck string is still whole to the surface
    damaged_top  the top is damaged; set by the outcome top_damaged, taken by a run that dresses
    made_3       run 3 was made, whatever its outcome; as `after = [3]`

A run or a fallback *needs* marks, all of them, and is *barred* by marks, any of them. A run that
did its own job (outcome `prepared` or `part`) takes marks, then gives marks. Every other word is
one of the file's own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Annotated

from pydantic import Field

from econ.scenario.base import MOST_RUNS

ATTACHED = "attached"
DAMAGED_TOP = "damaged_top"
MADE = "made_"  # how the marks of runs made begin

MOST_MARKS = 16  # of the file's own
MOST_WORDS = MOST_MARKS + 2 + MOST_RUNS  # in a list: those, the two built in, and all runs made

Word = Annotated[str, Field(pattern="^[A-Za-z0-9_]{1,40}$")]
Words = Annotated[list[Word], Field(max_length=MOST_WORDS)]


def made(number: int) -> str:
    """The mark that run `number`, counted from 1, was made.

    >>> made(3)
    'made_3'
    """
    return f"{MADE}{number}"


def run_made(mark: str) -> int | None:
    """Number of the run that a mark says was made, from 1; None for any other mark.

    >>> run_made("made_3"), run_made("washed"), run_made("made_up")
    (3, None, None)
    """
    number = re.fullmatch(r"made_([1-9][0-9]{0,5})", mark)
    return None if number is None else int(number[1])


def own_marks(used: Iterable[str]) -> tuple[str, ...]:
    """The marks of a job that its file names, in order of first appearance, `attached` first if
    it is among them. `damaged_top` and runs made are no marks of a file.

    >>> own_marks(["washed", "damaged_top", "attached", "made_1", "washed"])
    ('attached', 'washed')
    """
    named = dict.fromkeys(mark for mark in used if mark != DAMAGED_TOP and run_made(mark) is None)
    return tuple(sorted(named, key=lambda mark: mark != ATTACHED))


def plain(word: str) -> str:
    """A word without what a reader may overlook: capitals and underscores.

    >>> plain("Top_Leans")
    'topleans'
    """
    return word.casefold().replace("_", "")


def one_letter_apart(one: str, other: str) -> bool:
    """Whether two words differ by a letter changed, left out or put in; a digit is no letter, so
    that marks may be numbered. Words of up to three letters differ enough.

    >>> one_letter_apart("washed", "washd"), one_letter_apart("cable_1", "cable_2")
    (True, False)
    """
    short, long = sorted((plain(one), plain(other)), key=len)
    if len(long) - len(short) > 1 or len(short) < 4:
        return False
    same = next(
        (n for n, pair in enumerate(zip(short, long, strict=False)) if pair[0] != pair[1]),
        len(short),
    )
    rest = short[same + (len(short) == len(long)) :]
    letters = long[same : same + 1] + (short[same : same + 1] if len(short) == len(long) else "")
    return long[same + 1 :] == rest and not any(map(str.isdigit, letters))
