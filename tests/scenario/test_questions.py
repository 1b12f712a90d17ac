"""Questions on inputs that look wrong: each names both numbers, and none is asked in vain.

Bands: reports of one field, 2018 (grade B), see the head of the module; what nobody means is
judgement, no source. All jobs are invented.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from econ.scenario import load
from econ.scenario.notes import notes

ROOT = Path(__file__).parents[2]
A = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"

# what is set, and words of the question; by hand 311/25.4 = 12.24 in, 85 percent is 0.85
ASKED = [
    (["well.hole_diameter=311"], ("311 in: is it 311 mm, 12.24 in?",)),
    (["fishing.odds_ratio_per_day=85"], ("85 times a day", "0.85 meant")),
    (["fishing.loss_odds_ratio_per_day=120"], ("120 times a day", "1.2 meant")),
    (["fallback.1.kickoff_above_fish=10"], ("10 ft: does it pass the fish?", "150 to 350 ft")),
    (
        ["fallback.1.woc=20", "fallback.1.cement_tested=false"],
        ("20 h: is the strength", "34 to 69 h", "11 to 27 h"),
    ),
    # by hand: 200 and 759 m/h are 656 and 2,490 ft/h
    (["trip_speed.in.open=300"], ("trip_speed.in.open = 300 ft/h", "656 to 2,490 ft/h")),
]


@pytest.mark.parametrize(("changes", "words"), ASKED, ids=lambda each: str(each[0])[:40])
def test_what_looks_wrong_is_asked(changes: list[str], words: tuple[str, ...]) -> None:
    said = notes(load(A, changes))
    assert any(all(each in line for each in words) for line in said), said


def test_nothing_is_asked_of_what_looks_right() -> None:
    questions = [
        line
        for line in notes(load(A))
        if line.endswith("?") or "practice leaves" in line or "one field" in line
    ]
    assert questions == []


def test_a_wait_of_a_day_is_asked_in_the_other_demonstrations() -> None:
    # three wait 24 or 26 h on hours alone; the first has a laboratory's figure, the last 36 h
    for file in sorted((ROOT / "scenarios" / "point").glob("*.toml")):
        asked = any("laboratory" in line for line in notes(load(file)))
        assert asked == (file.name[0] in "bcd"), file.name
