"""[[doubt]]: what nobody knows about the fish, and the kinds of fish that follow from it.

Each doubt d of D holds (is in favour of the runs) or does not, with a chance of its own and
independently of the others beforehand. A kind of fish is one combination of them: in kind k of
2^D, bit d of k is 0 where doubt d is in favour and 1 where it is not. So kind 0 has all in
favour; with one doubt the kinds are workable and stubborn.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from pydantic import PrivateAttr

from econ.scenario.base import Chance, Section, key
from econ.scenario.evidence import Evidence
from econ.scenario.marks import Word

MOST_DOUBTS = 4  # 16 kinds of fish
WORKABLE = "workable"  # name of the one doubt of a file without [[doubt]]


class Doubt(Section):
    """[[doubt]]: something nobody knows, on which the odds of runs depend."""

    name: Word = key("A word for what is in favour of fishing: letters, digits and underscores")
    workable: Chance = key("Prior chance that it is in favour")
    note: str = key("What is meant, in a line", "", max_length=300)
    _evidence: tuple[Evidence, ...] = PrivateAttr(())

    @property
    def evidence(self) -> tuple[Evidence, ...]:
        """What past jobs had to say on its chance, where `odds_from` names some."""
        return self._evidence

    def with_evidence(self, evidence: tuple[Evidence, ...]) -> Doubt:
        """The same doubt, knowing what its chance rests on."""
        known = self.model_copy()
        known._evidence = evidence
        return known


def favourable(doubts: Sequence[Doubt], names: Collection[str] | None) -> list[bool]:
    """By kind of fish: whether all doubts of these names are in favour; None means all doubts.

    >>> top, jars = (Doubt(name=name, workable=0.5) for name in ("top_good", "jars_free"))
    >>> favourable([top, jars], None), favourable([top, jars], ["jars_free"])
    ([True, False, False, False], [True, True, False, False])
    """
    against = sum(
        1 << place for place, doubt in enumerate(doubts) if names is None or doubt.name in names
    )
    return [kind & against == 0 for kind in range(1 << len(doubts))]
