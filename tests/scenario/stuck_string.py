"""An invented job from its first hour on, which uses every key of doubts and marks.

The string is stuck and whole: it may be jarred, soaked or backed off, and only then be fished.
"""

from __future__ import annotations

import re

STUCK = """schema = 1
units = "field"
currency = "USD"
[job]
well = "Invented 1"
decided_at = 2026-03-14T06:00:00
[well]
depth = 9800
hole_diameter = 8.5
shoe_depth = 3600
[trip_speed]
in = { cased = 2000, open = 1400 }
out = { cased = 1800, open = 1300 }
[rates]
rig = 50000
[fishing]
day_rates = { hand = 5000 }
[[doubt]]
name = "top_good"
workable = 0.7
note = "The top can be caught"
[[doubt]]
name = "jars_free"
workable = { low = 0.5, high = 0.7 }
[fish]
top = 9300
bottom = 9800
marks = ["attached", "circulates"]
[[run]]
name = "1 Jar from the floor"
hours = 5
fishing_share = 0
depends_on = ["jars_free"]
needs = ["attached"]
ratio_with = { circulates = 1.4, made_1 = 0.5 }
at_most = 3
string_value = 90000
[run.odds]
workable = { recovered = 0.6, nothing = 0.39, hole_lost = 0.01 }
stubborn = { recovered = 0.02, nothing = 0.97, hole_lost = 0.01 }
[[run]]
name = "2 Back off"
kind = "freepoint_backoff"
hours = 14
needs = ["attached"]
takes = ["attached", "circulates"]
renews = { top_good = 0.8 }
odds = { prepared = 0.9, nothing = 0.1 }
[[run]]
name = "3 Wash over"
kind = "washover"
hours = 30
needs = ["made_2"]
bars = ["attached"]
gives = ["washed"]
odds = { prepared = 0.7, nothing = 0.29, top_damaged = 0.01 }
[[run]]
name = "4 Overshot"
kind = "overshot"
trips = [{ make_up = 2, work = 3 }]
after = [2]
ratio_with = { washed = 4 }
[run.odds]
workable = { recovered = 0.5, nothing = 0.4, top_damaged = 0.1 }
stubborn = { recovered = 0.05, nothing = 0.85, top_damaged = 0.1 }
[parting]
hours = 8
charge = 12000
[[fallback]]
name = "Sidetrack"
gross_rop = 36
[[fallback]]
name = "Drill past"
kind = "drill_past"
hours = 30
needs = ["washed"]
bars = ["damaged_top"]
[[reading]]
name = "Impression block"
reliability = 0.8
about = "top_good"
hours = 12
bars = ["attached"]
[weather]
fishing = 0.1
fallback = { low = 0.1, high = 0.2 }
[deadline]
in_days = 30
work_after_days = 4
cost_once = 100000
cost_per_day = 20000
"""


def changed(*replacements: tuple[str, str], text: str = STUCK) -> str:
    """The text with the first of each old text replaced, which must be there."""
    for old, new in replacements:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def without(section: str, text: str = STUCK) -> str:
    """The text without the first table of this header."""
    head = text.index(section)
    end = re.search(r"(?m)^\[(?!run\.)", text[head + len(section) :])
    assert end is not None
    return text[:head] + text[head + len(section) + end.start() :]
