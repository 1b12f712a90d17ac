"""Rules on sealed sources left in a well, by place: one radiation authority, one well authority.

The texts lie in `source_rules.toml` beside this module with the date they were read. Where a
file does not say whose rules hold, international guidance stands in. Check the current text.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True)
class SourceRules:
    """What the two authorities ask for, in the order of the job.

    radiation, well: who they are; rupture: the rule against rupturing a source; day_one,
    before_stop, after_stop: duties; read_on: when the texts were read; read: what of them was read,
    of the one and of the other.
    """

    radiation: str
    well: str
    rupture: str
    day_one: tuple[str, ...]
    before_stop: tuple[str, ...]
    after_stop: tuple[str, ...]
    read_on: date
    read: tuple[str, str]


@cache
def _document() -> dict[str, Any]:
    text = files("econ.job").joinpath("source_rules.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def places() -> tuple[str, ...]:
    """The places whose rules are entered.

    >>> "us_texas" in places()
    True
    """
    return tuple(_document()["place"])


@cache
def source_rules(place: str | None) -> SourceRules:
    """The rules that hold at a place; None where a file does not say.

    >>> source_rules("us_texas").rupture
    '25 TAC 289.253'
    """
    raw = _document()
    pair = raw["place"][place or "other"]
    radiation, well = raw["radiation"][pair["radiation"]], raw["well"][pair["well"]]
    duties = {
        when: (*radiation[when], *well[when]) for when in ("day_one", "before_stop", "after_stop")
    }
    return SourceRules(
        radiation=radiation["words"],
        well=well["words"],
        rupture=radiation["rupture"],
        read_on=raw["read_on"],
        read=(radiation["read"], well["read"]),
        **duties,
    )
