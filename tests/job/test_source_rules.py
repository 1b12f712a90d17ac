"""Rules on sealed sources by place. Sources: the public texts that each duty names."""

from __future__ import annotations

from typing import get_args

import pytest

from econ.job.source_rules import places, source_rules
from econ.reports import safety
from econ.scenario import parse
from econ.scenario.hole import SourceRules

BARE = """
schema = 1
units = "field"
currency = "USD"
job = {{ well = "Invented", source_rules = "{place}" }}
well = {{ depth = 10000, hole_diameter = 8.5, shoe_depth = 4000 }}
rates.rig = 24000
fish = {{ top = 9600, bottom = 10000, sealed_source = true }}
limits.minimum_runs = 0
fallback = [{{ name = "lump", hours = 100 }}]
"""


def said(place: str | None) -> str:
    rules = source_rules(place)
    return " ".join(
        (rules.radiation, rules.well, *rules.day_one, *rules.before_stop, *rules.after_stop)
    )


def test_every_place_of_the_format_has_its_rules() -> None:
    assert set(get_args(SourceRules)) == set(places())


@pytest.mark.parametrize(
    ("place", "there", "absent"),
    [
        # 10 CFR 39.15(a)(5): 30 days, plaque unless impractical, deflection unless inaccessible;
        # 39.77(c): approval before abandonment but for an immediate threat; 39.69(c): returns
        (
            "us",
            ("30 days", "impractical", "inaccessible", "immediate threat", "39.69(c)"),
            ("TAC",),
        ),
        # one radiation authority, one well authority: in Texas no federal text besides the words
        # that say what it stands in place of; 25 TAC 289.253(dd)(3); 16 TAC 3.35
        (
            "us_texas",
            ("289.253(dd)(3)", "3.35(b)(1)(A)", "at once", "marker"),
            ("39.15", "39.77", "30 CFR"),
        ),
        ("us_offshore", ("39.77(c)", "30 CFR 250.465"), ("250.1715", "TAC")),
        ("us_florida", ("64E-5.1119", "deflects"), ("39.15",)),
        ("us_north_carolina", ("10A NCAC 15 .1324", "30 days", "approval"), ("39.15",)),
        # 6 CCR 1007-1-16.25, LAC 33:XV.2051, 4VAC25-150-450, in public copies of 2024
        ("us_colorado", ("16.25.4.1", "whipstock", "immediate threat"), ("39.15", "TAC")),
        ("us_louisiana", ("33:XV.2051.B", "whipstock", "plaque"), ("39.15", "TAC")),
        ("us_virginia", ("4VAC25-150-450", "red iron oxide", "quickest"), ("39.15", "TAC")),
        (None, ("International Atomic Energy Agency", "national regulator"), ("CFR", "TAC")),
    ],
)
def test_what_a_place_asks_for(
    place: str | None, there: tuple[str, ...], absent: tuple[str, ...]
) -> None:
    words = said(place)
    assert all(each in words for each in there)
    assert not [each for each in absent if each in words]


@pytest.mark.parametrize("place", places())
def test_what_was_not_read_is_said(place: str) -> None:
    # by definition: who reads the list is told how far it can be trusted
    rules = source_rules(place)
    assert all(rules.read)
    (head, *_) = safety.checklist(parse(BARE.format(place=place), need_odds=False))
    assert all(words in head for words in rules.read)
    assert f"{rules.read_on:%d %B %Y}" in head
