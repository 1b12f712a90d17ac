"""Jobs that strain a figure: few runs, many runs, and names as bad as a file can hold.

All are made from demo A, which is invented, with few draws.
"""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

from raw_jobs import DEMO_A, Table, lump_job, read, scenario

import econ
from econ.decision.sensitivity import Sensitivity, sensitivity

HOSTILE = '$x^2$ mathtext $\\frac{1}{0}$ <script>alert(1)</script> "><img onerror=1> &amp; =1+1'
CHINESE = "\u6253\u635e\u4f5c\u4e1a\u4e95 14-3 " * 25
ARABIC = "\u0628\u0626\u0631 \u0635\u064a\u062f 14-3 " * 25
PILED = "a" + "\u0301" * 60 + " \U0001f600 \u202e tail \u200f"
UNBROKEN = "W" * 300
LONG = "Overshot with a very long name, then more of it, and " * 6
DRAWS = {"n": 16, "scrambles": 16}


def program(count: int, **more: Any) -> Table:
    """Demo A with a program of `count` runs, and other sections where they are given."""
    raw = read(DEMO_A)
    raw.pop("correlation", None)
    runs = [copy.deepcopy(raw["run"][place % 5]) for place in range(count)]
    if count > 5:  # nothing but recovered or not: an answer in one second, not in ten
        for run in runs:
            run["odds"] = {
                "workable": {"recovered": 0.4, "nothing": 0.6},
                "stubborn": {"recovered": 0.02, "nothing": 0.98},
            }
    raw["run"] = [run | {"name": f"Run {place + 1}"} for place, run in enumerate(runs)]
    return raw | more


def renamed(raw: Table, *names: str) -> Table:
    """A job in which well, fallbacks and runs take these names in turn."""
    named = copy.deepcopy(raw)
    for place, section in enumerate([named["job"], *named["fallback"], *named["run"]]):
        name = names[place % len(names)][:300].strip()
        section["name" if section is not named["job"] else "well"] = name
    return named


def raws() -> dict[str, Table]:
    """Every job, by name."""
    sure = {**lump_job({"recovered": 1.0}, hours=0.0), "rates": {"rig": 0}}
    cheap = {"name": "Drill past", "hours": 10, "lost_in_hole_share": 0}
    found = {
        "no run": program(0),
        "one run": program(1),
        "thirty runs": program(30),
        "stop": program(5, fallback=[cheap, *program(0)["fallback"]]),
        "dear": program(5, rates={"rig": 5e12}, currency="$x_1^2$"),
        "metric": program(2, units="metric", currency="\u5143"),
        "sure and free": sure,
        "lump": lump_job({"recovered": 0.5, "nothing": 0.5}),
    }
    found["long"] = renamed(program(12), LONG)
    found["hostile"] = renamed(program(3), CHINESE, PILED, HOSTILE, UNBROKEN, ARABIC)
    found["scripts"] = renamed(program(3), HOSTILE, ARABIC, CHINESE, PILED, UNBROKEN)
    return found


@cache
def answered(name: str) -> econ.Answer:
    """The answer to a job."""
    return econ.answer(scenario(raws()[name], **DRAWS))


def turned_job() -> Table:
    """A small job with a range on a rate whose name is hostile."""
    odds = {"recovered": 0.4, "nothing": 0.6}
    raw = renamed(lump_job(odds, odds), HOSTILE)
    raw["rates"] = {HOSTILE[:200]: {"low": 20_000, "high": 28_000}, "rig": 1_000}
    return raw


@cache
def turned() -> tuple[econ.Answer, Sensitivity]:
    """The answer and the sensitivity of that job."""
    job = scenario(turned_job(), **DRAWS)
    return econ.answer(job), sensitivity(job, n=16)
