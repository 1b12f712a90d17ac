"""`speeds_from`: speeds and hours of daily reports put where a scenario leaves them out.

Done on the raw document, after the overrides and before any check. What the scenario states is
kept; what it leaves out and the reports know is taken:

    trip_speed.in.cased    trip_in_cased of the reports, or trip_in (any hole) where it has fewer
    and the other three    than FEW cases
    fallback.N.condition   circulate
    fallback.N.plug_hours  plug_hours        of a sidetrack that is built up hour by hour; they are
    fallback.N.woc         woc               the keys that a planning value would stand in for
    fallback.N.make_up     make_up
    fallback.N.gross_rop   drilling in the hole size of the well, to the eighth of an inch
    weather.fishing        share of all hours waited for weather
    weather.fallback

A value of fewer than FEW cases is not taken. An amount is {median = P50, factor = sqrt(P90/P10)}:
a lognormal, which is positive, has the median of the cases and the same ratio of P90 to P10. The
other values of the file are for people: logging and waits are decisions of a job.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from econ.scenario.evidence import FromReports, Reported
from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.quantities import UNITS
from econ.scenario.speeds_file import Percentiles, SpeedsFile, ValueName, read_speeds_file

Table = dict[str, Any]
Path_ = tuple[str | int, ...]
FEW = 5  # cases; fewer are not taken
LEAST_FACTOR, MOST_FACTOR = 1.01, 20.0
SAME_SIZE = 1 / 16  # [in] hole sizes that are one
SIDETRACK: dict[str, ValueName] = {
    "condition": "circulate",
    "plug_hours": "plug_hours",
    "woc": "woc",
    "make_up": "make_up",
}
STAND_IN = {"cased": 1.0, "open": 1.0}  # for a file that cannot be read; its faults are told


@dataclass
class ResolvedSpeeds:
    """A raw document without need of `speeds_from`, and what was done to it."""

    raw: Table
    faults: list[Fault] = field(default_factory=list)
    paths: list[Path_] = field(default_factory=list)
    told: FromReports | None = None


def resolve_speeds(raw: Table, folder: str | os.PathLike[str]) -> ResolvedSpeeds:
    """The document with what its `speeds_from` knows; as it is where it names none."""
    name = raw.get("speeds_from")
    if not isinstance(name, str) or not name:
        return ResolvedSpeeds(raw)
    resolved = ResolvedSpeeds(dict(raw))
    try:
        file = read_speeds_file(Path(folder) / name)
    except ScenarioError as error:
        resolved.faults += error.faults
        if "trip_speed" not in raw:  # what is missing because of the file is no fault
            resolved.raw["trip_speed"] = {"in": STAND_IN, "out": STAND_IN}
        return resolved
    metric = raw.get("units") == "metric"
    values = _Taking(resolved, file, metric=metric).all()
    resolved.told = FromReports(name, file.source, file.unmatched, tuple(values))
    return resolved


class _Taking:
    """One document and one file of speeds."""

    def __init__(self, resolved: ResolvedSpeeds, file: SpeedsFile, *, metric: bool) -> None:
        self.resolved, self.raw, self.file = resolved, resolved.raw, file
        self.own = UNITS["speed"][2] if file.units == "metric" else 1.0  # to ft/h
        self.wanted = UNITS["speed"][2] if metric else 1.0
        self.unit = "m/h" if metric else "ft/h"
        self.metric = metric

    def all(self) -> Iterator[Reported]:
        """Fill all that is left out and known."""
        yield from self._trips()
        yield from self._sidetracks()
        yield from self._weather()

    def _trips(self) -> Iterator[Reported]:
        stated = self.raw.get("trip_speed", {})
        if not isinstance(stated, dict):
            return
        speeds = dict(stated)
        for way in ("in", "out"):
            parts = stated.get(way, {})
            if not isinstance(parts, dict):
                continue
            filled = dict(parts)
            for part in ("cased", "open"):
                path = ("trip_speed", way, part)
                names: tuple[Any, Any] = (f"trip_{way}_{part}", f"trip_{way}")
                enough = (each for each in names if self._cases(each) >= FEW)
                name = next(enough, max(names, key=self._cases))
                yield from self._fill(filled, part, path, self.file.value.get(name), speed=True)
            if filled:
                speeds[way] = filled
        if speeds:
            self.raw["trip_speed"] = speeds
            self.resolved.paths.append(("trip_speed",))

    def _cases(self, name: ValueName) -> int:
        known = self.file.value.get(name)
        return 0 if known is None else known.cases

    def _sidetracks(self) -> Iterator[Reported]:
        fallbacks = self.raw.get("fallback")
        if not isinstance(fallbacks, list):
            return
        self.raw["fallback"] = list(fallbacks)
        for place, stated in enumerate(fallbacks):
            if not isinstance(stated, dict) or "hours" in stated:
                continue
            filled = dict(stated)
            for key, name in SIDETRACK.items():
                known = self.file.value.get(name)
                yield from self._fill(filled, key, ("fallback", place, key), known, speed=False)
            path = ("fallback", place, "gross_rop")
            yield from self._fill(filled, "gross_rop", path, self._rate(), speed=True)
            self.raw["fallback"][place] = filled
            self.resolved.paths.append(("fallback", place))

    def _rate(self) -> Percentiles | None:
        """The drilling rate in the hole size of the well."""
        well = self.raw.get("well")
        size = well.get("hole_diameter") if isinstance(well, dict) else None
        if size is None or not _is_number(size):
            return None
        wanted = size / 25.4 if self.metric else size
        own = 25.4 if self.file.units == "metric" else 1.0
        same = [
            each for each in self.file.drilling if abs(each.hole_size / own - wanted) <= SAME_SIZE
        ]
        return max(same, key=lambda each: each.cases, default=None)

    def _weather(self) -> Iterator[Reported]:
        stated = self.raw.get("weather", {})
        share = self.file.lost.weather
        if not isinstance(stated, dict) or not share:
            return
        filled = dict(stated)
        hours = f"{self.file.hours:,.0f} h"
        for key in ("fishing", "fallback"):
            path = ("weather", key)
            if key in stated:
                yield Reported(path, "kept", "stated in the scenario")
            elif share > 0.9:
                yield Reported(path, "kept", f"{share:.0%} of {hours} is more than 90 %")
            else:
                filled[key] = share
                yield Reported(path, "reports", f"{share:.1%} of {hours} waited for weather")
        if filled:
            self.raw["weather"] = filled
            self.resolved.paths.append(("weather",))

    def _fill(
        self, table: Table, key: str, path: Path_, known: Percentiles | None, *, speed: bool
    ) -> Iterator[Reported]:
        """Put a value where the table leaves the key out, and tell what was done."""
        if known is None:
            return
        if key in table:
            yield Reported(path, "kept", "stated in the scenario", known.cases)
            return
        if known.cases < FEW:
            few = f"{known.cases} of {FEW} cases that are needed"
            yield Reported(path, "kept", few, known.cases)
            return
        factor = self.own / self.wanted if speed else 1.0
        p10, p50, p90 = (each * factor for each in (known.p10, known.p50, known.p90))
        spread = math.sqrt(p90 / p10) if p10 > 0 else MOST_FACTOR
        ratio = min(MOST_FACTOR, max(LEAST_FACTOR, spread))
        table[key] = {"median": float(f"{p50:.5g}"), "factor": float(f"{ratio:.4g}")}
        unit = self.unit if speed else "h"
        wells = f"{known.wells} well{'' if known.wells == 1 else 's'}"
        spans = f"P10 {p10:.4g}, P50 {p50:.4g}, P90 {p90:.4g} {unit}"
        yield Reported(path, "reports", f"{known.cases} cases of {wells}, {spans}", known.cases)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
