"""Random jobs as raw tables, for holding the program against the reference of the plan.

Every feature is switched by its name, and one that is switched on is in a job with the chance
`share`. A job is drawn again until its histories, at the most `size`, can all be walked. All are
invented, in field units and single numbers, and every word that a run needs or is barred by is
given or taken by something in the file.
"""

import copy
from collections.abc import Collection
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import numpy as np

from .job import Table

FEATURES = (
    "ageing",  # odds of recovery and of losses move with the days
    "attached",  # the string is still whole to surface; parting, runs by hours, a back-off
    "common",  # hours and cost before the first decision
    "damaged",  # top_damaged, runs that dress the top, a top damaged from the start
    "deadline",
    "doubts",  # one to three by name; without, fishing.workable or no doubt at all
    "fallbacks",  # several, with lumps, trouble, doors, needs and bars on marks of the job
    "marks",  # needs, bars, gives, takes and ratio_with on own words, after
    "minimum",  # minimum_runs
    "old_fallbacks",  # several fallbacks, without needs and bars
    "order",  # after, on runs listed before
    "part",
    "prepared",
    "readings",
    "renews",  # a doubt that holds afresh
    "rentals",
    "repeats",  # at_most above 1, ratio_with made_k
    "share",  # fishing_share of runs
    "weather",
    "whipstock",
)
OF_TODAY = frozenset(  # known to files without doubts and marks
    {"ageing", "common", "damaged", "minimum", "old_fallbacks", "order", "part", "rentals"}
    | {"whipstock"}
)
GOES_ON = ("part", "nothing", "prepared", "top_damaged")
KINDS = ("overshot", "washover", "wall_hook")
DECIDED = datetime(2026, 3, 14, 6)
MOST_HISTORIES = 2_500


def random_plan(
    rng: np.random.Generator,
    *,
    features: Collection[str] = FEATURES,
    share: float = 0.6,
    most: int = MOST_HISTORIES,
) -> Table:
    """Return a job of two to four runs; `most` bounds its histories that go on."""
    unknown = set(features) - set(FEATURES)
    if unknown:
        raise ValueError(f"no such features: {sorted(unknown)}")
    while True:
        has = {name for name in FEATURES if rng.random() < share and name in features}
        raw = _Draw(rng, has).job()
        if size(raw) <= most:
            return raw


def with_source(rng: np.random.Generator, raw: Table) -> Table:
    """Return a copy of a job with a sealed source in the fish and hours until a plug is approved.

    Now and then a run takes the source, and what it and the missing consent bar is barred by marks
    that the file does not state: they follow from the description of the fish.
    """
    raw = copy.deepcopy(raw)
    raw.setdefault("limits", {}).setdefault("minimum_runs", 0)
    raw["limits"]["approval_hours"] = round(float(rng.uniform(6, 120)), 1)
    if rng.random() < 0.3:
        raw["fish"].setdefault("marks", []).append("source")
    else:
        raw["fish"]["sealed_source"] = True
    raw["fish"]["written_consent"] = bool(rng.random() < 0.3)
    retrieval, barred = (int(place) for place in rng.permutation(len(raw["run"]))[:2])
    if rng.random() < 0.7:
        run = raw["run"][retrieval]
        run["takes"] = [*run.get("takes", []), "source", "no_touch"]
        for odds in [run["odds"]] if "workable" not in run["odds"] else run["odds"].values():
            if odds.get("nothing", 0.0) > 0.1:
                half = round(odds["nothing"] / 2, 3)
                odds["prepared"] = round(odds.get("prepared", 0.0) + half, 3)
                odds["nothing"] = round(odds["nothing"] - half, 3)
    if rng.random() < 0.6:
        run = raw["run"][barred]
        run["bars"] = [*run.get("bars", []), "source" if rng.random() < 0.5 else "no_touch"]
    return raw


def size(raw: Table) -> int:
    """Return how many histories that go on a plan may come to, marks left aside."""
    runs, readings = raw["run"], raw.get("reading", [])
    branches = tuple(_branches(run["odds"]) for run in runs) + (2,) * len(readings)

    @cache
    def below(left: tuple[int, ...]) -> int:
        total = 1
        for place, times in enumerate(left):
            if times:
                less = (*left[:place], times - 1, *left[place + 1 :])
                total += branches[place] * below(less)
        return total

    return below(tuple(run.get("at_most", 1) for run in runs) + (1,) * len(readings))


def _branches(odds: Table) -> int:
    tables = [odds["workable"], odds["stubborn"]] if "workable" in odds else [odds]
    return sum(any(table.get(name, 0.0) > 0.0 for table in tables) for name in GOES_ON)


class _Draw:
    """One job with the features `has`."""

    def __init__(self, rng: np.random.Generator, has: set[str]) -> None:
        self.rng, self.has = rng, has
        self.number = int(rng.integers(2, 5))
        self.doubts: list[str] = []
        if "doubts" in has:
            self.doubts = ["top_good", "jars_free", "washable"][: int(rng.integers(1, 4))]

    def between(self, low: float, high: float, digits: int = 0) -> float:
        return round(float(self.rng.uniform(low, high)), digits)

    def maybe(self, chance: float) -> bool:
        return bool(self.rng.random() < chance)

    def some(self, words: Collection[Any]) -> Any:
        words = list(words)
        return words[int(self.rng.integers(len(words)))]

    def job(self) -> Table:
        rng, has = self.rng, self.has
        top = self.between(8_000, 9_600)
        cut = self.between(100, 300)
        raw: Table = {
            "schema": 1,
            "units": "field",
            "currency": "USD",
            "job": {"well": "invented"},
            "well": {"depth": 10_000.0, "hole_diameter": 8.5, "shoe_depth": 4_000.0},
            "trip_speed": {
                way: {"cased": self.between(1_500, 2_500), "open": self.between(900, 1_500)}
                for way in ("in", "out")
            },
            "rates": {"rig": self.between(25_000, 60_000)},
            "fishing": {
                "day_rates": {"services": self.between(3_000, 15_000)},
                "mobilization": self.between(0, 20_000),
                "damaged_top_factor": self.between(0.3, 1.0, 2),
            },
            "fish": {
                "top": top,
                "bottom": 10_000.0,
                "piece": [
                    {"name": "upper", "length": cut, "value": self.between(0, 60_000)},
                    {
                        "name": "lower",
                        "length": 10_000.0 - top - cut,
                        "value": self.between(0, 250_000),
                    },
                ],
            },
            "run": [self.run(place) for place in range(self.number)],
            "recovery": {
                "hours": self.between(10, 40),
                "charge": self.between(0, 50_000),
                "fishing_share": self.between(0, 1, 2),
            },
            "fallback": [self.sidetrack()],
            "draws": {"n": 16, "seed": 3, "scrambles": 16},
        }
        if self.doubts:
            raw["doubt"] = [
                {"name": name, "workable": self.between(0.2, 0.9, 2)} for name in self.doubts
            ]
        else:
            raw["fishing"]["workable"] = self.between(0.2, 0.9, 2)
        if "ageing" in has:
            raw["fishing"]["odds_ratio_per_day"] = self.between(0.7, 1.15, 3)
            raw["fishing"]["loss_odds_ratio_per_day"] = self.between(0.9, 1.5, 3)
        if "common" in has:
            raw["common"] = {"hours": self.between(1, 30), "cost": self.between(0, 40_000)}
        if "minimum" in has:
            raw["limits"] = {"minimum_runs": int(rng.integers(1, self.number + 1))}
        if "weather" in has:
            raw["weather"] = {
                "fishing": self.between(0, 0.5, 2),
                "fallback": self.between(0, 0.5, 2),
            }
        if "deadline" in has:
            self.add_deadline(raw)
        if "damaged" in has and {"marks", "attached"} & has and self.maybe(0.3):
            raw["fish"].setdefault("marks", []).append("damaged_top")
        if "order" in has:
            last = int(rng.integers(2, self.number + 1))
            raw["run"][last - 1]["after"] = [int(rng.integers(1, last))]
        if "marks" in has:
            self.add_marks(raw)
        if "attached" in has:
            self.add_attached(raw)
        if "repeats" in has:
            self.add_repeats(raw)
        self.add_prepared_and_renewed(raw)
        if {"fallbacks", "old_fallbacks"} & has:
            self.add_fallbacks(raw)
        if "rentals" in has:
            raw["rental"] = [self.rental(raw) for _ in range(int(rng.integers(1, 3)))]
        if "readings" in has and self.tells_kinds(raw):
            raw["reading"] = [self.reading(raw)]
        return raw

    def tells_kinds(self, raw: Table) -> bool:
        return any("workable" in run["odds"] for run in raw["run"])

    # ---- runs -----------------------------------------------------------------------------

    def run(self, place: int) -> Table:
        run: Table = {
            "name": f"run {place + 1}",
            "kind": self.some(KINDS),
            "wait": self.between(0, 12) if self.maybe(0.5) else 0.0,
            "charge": self.between(0, 60_000),
            "part_length": self.between(30, 150),
            "string_length": self.between(200, 500),
            "string_value": self.between(20_000, 120_000),
        }
        if self.maybe(0.5):
            run["hours"] = self.between(6, 70)
        else:
            names = ("make_up", "circulate", "work", "lay_down")
            run["trips"] = [
                {name: self.between(0.5, 6, 1) for name in names}
                for _ in range(int(self.rng.integers(1, 3)))
            ]
        if "damaged" in self.has and self.maybe(0.4):
            run["dresses_top"] = True
        if "share" in self.has and self.maybe(0.6):
            run["fishing_share"] = self.some([0.0, 0.5, self.between(0, 1, 2)])
        kept = [
            name
            for name, needs in (("part", "part"), ("top_damaged", "damaged"))
            if needs in self.has and self.maybe(0.7)
        ]
        kept += [name for name in ("string_lost", "hole_lost") if self.maybe(0.7)]
        if self.maybe(0.8):
            run["odds"] = {
                "workable": self.odds(kept, recovered=self.between(0.3, 0.8, 3)),
                "stubborn": self.odds(kept, recovered=self.between(0, 0.2, 3)),
            }
            if self.doubts and self.maybe(0.7):
                count = int(self.rng.integers(1, len(self.doubts) + 1))
                chosen = self.rng.choice(len(self.doubts), count, replace=False)
                run["depends_on"] = [self.doubts[place] for place in sorted(chosen)]
        else:
            run["odds"] = self.odds(kept, recovered=self.between(0.1, 0.6, 3))
        return run

    def odds(self, kept: list[str], *, recovered: float) -> Table:
        """Odds with the outcomes kept; now and then `nothing` has nothing to give."""
        odds = {"recovered": recovered}
        for name in kept:
            lost = name in ("string_lost", "hole_lost")
            odds[name] = self.between(0.005, 0.04 if lost else 0.15, 3)
        scale = min(1.0, 0.99 / sum(odds.values()))
        odds = {name: round(chance * scale, 3) for name, chance in odds.items()}
        rest = round(1.0 - sum(odds.values()), 3)
        gets = "part" if "part" in kept and self.maybe(0.15) else "nothing"
        odds[gets] = round(odds.get(gets, 0.0) + rest, 3)
        return odds

    # ---- marks and doubts -----------------------------------------------------------------

    def add_marks(self, raw: Table) -> None:
        """A top buried under fill that a run takes; a washed fish that helps or is needed."""
        runs = raw["run"]
        if self.maybe(0.6):
            raw["fish"].setdefault("marks", []).append("buried")
            cleaner, barred = self.rng.permutation(self.number)[:2]
            runs[cleaner].setdefault("takes", []).append("buried")
            runs[barred].setdefault("bars", []).append("buried")
        giver, other = self.rng.permutation(self.number)[:2]
        runs[giver].setdefault("gives", []).append("washed")
        use = self.some(["needs", "ratio_with", "bars"])
        if use == "ratio_with":
            runs[other]["ratio_with"] = {"washed": self.between(0.5, 4, 2)}
        else:
            runs[other].setdefault(use, []).append("washed")
        if self.maybe(0.3):
            runs[other].setdefault("takes", []).append("washed")
        if self.maybe(0.5):
            first, second = (int(place) for place in self.rng.permutation(self.number)[:2])
            use = self.some(["ratio_with", "bars", "after"])
            if use == "ratio_with" or "order" in self.has:  # no run is to wait for itself
                runs[first].setdefault("ratio_with", {})[f"made_{second + 1}"] = 0.7
            elif use == "bars":
                runs[first].setdefault("bars", []).append(f"made_{second + 1}")
            else:
                runs[first]["after"] = [second + 1]
        if "damaged" in self.has and self.maybe(0.4):
            run = self.some(runs)
            if self.maybe(0.5):
                run.setdefault("bars", []).append("damaged_top")
            else:
                run.setdefault("ratio_with", {})["damaged_top"] = self.between(0.4, 0.9, 2)

    def add_attached(self, raw: Table) -> None:
        """The string is whole to surface: jar through it, back off, and perhaps screw in again."""
        raw["fish"].setdefault("marks", []).append("attached")
        raw["parting"] = {"hours": self.between(4, 24), "charge": self.between(0, 60_000)}
        jar, back_off = raw["run"][0], raw["run"][1]
        for run in (jar, back_off):
            run.pop("trips", None)
            run["hours"] = self.between(2, 12)
            run.setdefault("needs", []).append("attached")
        back_off.setdefault("takes", []).append("attached")
        for run in raw["run"][2:]:
            if self.maybe(0.4):
                run.setdefault("gives", []).append("attached")

    def add_repeats(self, raw: Table) -> None:
        for place, run in enumerate(raw["run"]):
            if self.maybe(0.5):
                run["at_most"] = 2
                if self.maybe(0.6):
                    ratio = self.between(0.3, 1.2, 2)
                    run.setdefault("ratio_with", {})[f"made_{place + 1}"] = ratio

    def add_prepared_and_renewed(self, raw: Table) -> None:
        """Some of what `nothing` has is the run's own job done."""
        for run in raw["run"]:
            by_kind = "workable" in run["odds"]
            does = bool(run.get("gives") or run.get("takes"))
            own_job = does or ("prepared" in self.has and by_kind and self.maybe(0.5))
            if own_job:
                for odds in [run["odds"]] if not by_kind else run["odds"].values():
                    if odds.get("nothing", 0.0) > 0.0:
                        odds["prepared"] = round(odds["nothing"] * self.between(0.2, 0.9, 2), 3)
                        odds["nothing"] = round(odds["nothing"] - odds["prepared"], 3)
            if "renews" in self.has and self.doubts and own_job and self.maybe(0.5):
                run["renews"] = {self.some(self.doubts): self.between(0.2, 0.9, 2)}

    def reading(self, raw: Table) -> Table:
        reading: Table = {
            "name": "impression block",
            "reliability": self.between(0.6, 1, 2),
            "hours": self.between(1, 12),
            "cost": self.between(0, 8_000),
        }
        if self.doubts:
            reading["about"] = self.some(self.doubts)
        if self.maybe(0.5):
            reading["reliability_stubborn"] = self.between(0.6, 1, 2)
        if "attached" in self.has and self.maybe(0.5):
            reading[self.some(["needs", "bars"])] = ["attached"]
        return reading

    # ---- contracts, ends, clock -----------------------------------------------------------

    def rental(self, raw: Table) -> Table:
        used = self.some(raw["run"])
        contract: Table = {
            "tool": "rented tool",
            "mobilization": self.between(0, 10_000),
            "minimum_days": self.between(0, 5),
            "day": self.between(500, 6_000),
            "standby_day": self.between(0, 3_000),
            "redress": self.between(0, 3_000),
            "per_foot": self.between(0, 20),
            "replacement": self.between(0, 40_000),
        }
        if self.maybe(0.85):
            contract["kinds"] = [used["kind"]]
        if self.maybe(0.25):
            contract["held_days"] = self.between(0, 4)
        else:
            contract["delivery"] = self.between(0, 30)
            if self.maybe(0.6):
                first = next(
                    place
                    for place, run in enumerate(raw["run"], start=1)
                    if run["kind"] in contract.get("kinds", KINDS)
                )
                latest = self.number if {"marks", "repeats"} & self.has else first
                contract["call_out"] = int(self.rng.integers(0, latest + 1))
        return contract

    def sidetrack(self) -> Table:
        fallback: Table = {
            "name": "open-hole sidetrack",
            "kickoff_above_fish": self.between(100, 300),
            "kickoff_floor": 4_060.0,
            "kickoff_below_shoe": 60.0,
            "stinger": 2.0,
            "condition": 3.0,
            "plug_hours": 3.0,
            "plugs": int(self.rng.integers(1, 3)),
            "woc": self.between(8, 30),
            "make_up": 3.5,
            "dress": 4.0,
            "kickoff_length": 22.0,
            "kickoff_rate": 2.0,
            "gross_rop": self.between(20, 50),
            "bit_life": self.between(600, 1_400),
            "logging_hours": self.between(0, 10),
            "directional_day": self.between(5_000, 15_000),
            "plug_cost": self.between(10_000, 40_000),
            "mobilization": self.between(0, 15_000),
            "bit_cost": self.between(10_000, 30_000),
            "kickoff_failure": self.between(0, 0.5, 2),
            "stick_again": {
                "chance": self.between(0, 0.15, 2),
                "cost": self.between(0, 300_000),
            },
            "lost_in_hole_share": self.between(0.3, 1, 2),
        }
        if "deadline" in self.has and self.maybe(0.5):
            fallback["stick_again"]["hours"] = self.between(10, 90)
        if "whipstock" in self.has:
            fallback["whipstock"] = {
                "after": int(self.rng.integers(1, 3)),
                "hours": self.between(20, 40),
                "cost": self.between(0, 60_000),
                "failure": self.between(0, 0.4, 2),
            }
        return fallback

    def add_fallbacks(self, raw: Table) -> None:
        """Lumps that now and then are the cheapest; the sidetrack stays open to every end."""
        own = "fallbacks" in self.has
        for kind in ("drill_past", "complete_above")[: int(self.rng.integers(1, 3))]:
            lump: Table = {
                "name": kind,
                "kind": kind,
                "hours": self.between(20, 250),
                "cost": self.between(0, 200_000),
                "value_given_up": self.between(0, 300_000),
                "trouble": {"chance": self.between(0, 0.3, 2), "cost": self.between(0, 99_000)},
                "lost_in_hole_share": self.between(0, 1, 2),
            }
            if self.maybe(0.3):
                lump["after_string_lost"] = self.maybe(0.5)
                lump["after_hole_lost"] = self.maybe(0.5)
            words = {mark for run in raw["run"] for mark in run.get("gives", [])}
            words |= {*raw["fish"].get("marks", []), "made_1", "damaged_top"}
            words -= {"attached"}
            if own and self.maybe(0.7):
                lump[self.some(["needs", "bars"])] = [self.some(sorted(words))]
            raw["fallback"].append(lump)

    def add_deadline(self, raw: Table) -> None:
        deadline: Table = {
            "work_after_days": self.between(0, 3, 1) if self.maybe(0.5) else 0.0,
            "cost_once": self.between(0, 200_000) if self.maybe(0.7) else 0.0,
            "cost_per_day": self.between(0, 60_000) if self.maybe(0.7) else 0.0,
        }
        days = self.between(3, 20, 1)
        if self.maybe(0.5):
            deadline["in_days"] = days
        else:
            raw["job"]["decided_at"] = DECIDED
            deadline["at"] = DECIDED + timedelta(hours=round(days * 24))
        raw["deadline"] = deadline
