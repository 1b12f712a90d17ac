"""Tables of daily reports: what the text, the figure, CSV and JSON show."""

from __future__ import annotations

import econ
from econ.records.daily_reports import DailyReports
from econ.reports.tables.plain import Row, plain
from econ.scenario.quantities import UNITS

SORT_WORDS = {
    "drill": "Drilling",
    "sidetrack": "Kicking off a sidetrack",
    "trip": "Tripping, neither way told",
    "trip_in": "Tripping in",
    "trip_out": "Tripping out",
    "short_trip": "Short trips and single joints",
    "ream": "Reaming, pumping out",
    "circulate": "Circulating",
    "make_up": "Making up and laying down",
    "casing": "Casing and its cement",
    "plug": "Cement plugs",
    "wait_cement": "Waiting on cement",
    "drill_cement": "Drilling cement",
    "log": "Logging",
    "core": "Coring",
    "survey": "Surveys",
    "test": "Wellhead, BOP and tests",
    "complete": "Completion and abandonment",
    "move": "Rig moves, rigging up",
    "service": "Rig service",
    "weather": "Waiting on weather",
    "repair": "Repairs and maintenance",
    "wait": "Other waiting",
    "control": "Losses and well control",
    "stuck": "Stuck pipe",
    "fish": "Fishing",
    "cut": "Free point and cutting",
    "other": "Other, as told",
    "unmatched": "Nothing known of it",
}
VALUE_WORDS = {
    "trip_in_cased": "trip in, cased hole",
    "trip_in_open": "trip in, open hole",
    "trip_in": "trip in, any hole",
    "trip_out_cased": "trip out, cased hole",
    "trip_out_open": "trip out, open hole",
    "trip_out": "trip out, any hole",
    "make_up": "make up, at a stretch",
    "circulate": "circulate, at a stretch",
    "plug_hours": "pump a plug",
    "woc": "let a plug set",
    "cement_to_entry": "plug to first entry",
    "wait_on_cement": "wait on cement, at a stretch",
    "logging": "logging, at a stretch",
    "drilling": "drilling",
}


def value_rows(daily: DailyReports, *, metric: bool = False) -> list[Row]:
    """Speeds, hours and rates, percentiles in `unit`: ft/h or h, or m/h with `metric`."""
    rows = []
    for value in daily.values:
        speed = value.unit != "h"
        factor = UNITS["speed"][2] if metric and speed else 1.0
        size = value.hole_size
        rows.append(
            {
                "name": value.name,
                "hole_size": size * 25.4 if metric and size is not None else size,
                "unit": UNITS["speed"][metric] if speed else value.unit,
                "cases": value.cases,
                "wells": value.wells,
                "p10": value.p10 / factor,
                "p50": value.p50 / factor,
                "p90": value.p90 / factor,
            }
        )
    return rows


def time_rows(daily: DailyReports) -> list[Row]:
    """Hours by sort of work: by plan, in fishing jobs, in their consequences; and the share."""
    return [
        {
            "sort": each.sort,
            "plan": each.plan,
            "fishing": each.fishing,
            "consequence": each.consequence,
            "hours": each.hours,
            "share": each.hours / daily.hours if daily.hours else 0.0,
        }
        for each in daily.spent
    ]


def stretch_rows(daily: DailyReports, *, metric: bool = False) -> list[Row]:
    """Stretches of trouble with what is proposed for them, without the text of the reports."""
    length, diameter = (
        UNITS[dimension][2] if metric else 1.0 for dimension in ("length", "diameter")
    )
    return [
        {
            "job": each.job,
            "run": each.run,
            "what": each.what,
            "proposed_kind": each.kind,
            "proposed_outcome": each.outcome,
            "cause": each.cause,
            "start": each.start,
            "end": each.end,
            "hours": each.hours,
            "elapsed": each.elapsed,
            "hole_size": None if each.hole_size is None else each.hole_size / diameter,
            "depth": None if each.depth is None else each.depth / length,
        }
        for each in daily.stretches
    ]


def told_rows(daily: DailyReports) -> list[Row]:
    """What of the reports was not taken, or taken otherwise than it stands there."""
    return [
        {
            "what": each.what,
            "done": each.done,
            "where": each.where,
            "count": each.count,
            "hours": each.hours,
        }
        for each in daily.told
    ]


NAMES = ("values", "time", "stretches", "told")  # of the tables


def all_tables(daily: DailyReports, *, metric: bool = False) -> dict[str, list[Row]]:
    """The tables by name; metric: lengths in m, diameters in mm."""
    tables = (
        value_rows(daily, metric=metric),
        time_rows(daily),
        stretch_rows(daily, metric=metric),
        told_rows(daily),
    )
    return dict(zip(NAMES, tables, strict=True))


def daily_document(daily: DailyReports, *, metric: bool = False) -> Row:
    """One JSON document of everything but the text of the reports."""
    document: Row = plain(
        {
            "version": econ.__version__,
            "units": "metric" if metric else "field",
            "files": daily.files,
            "reports": daily.reports,
            "wells": list(daily.wells),
            "first": daily.first,
            "last": daily.last,
            "hours": daily.hours,
            "missing": daily.missing,
            "twice": daily.twice,
            "unmatched": daily.unmatched,
            "weather": daily.weather,
            "repair": daily.repair,
            "jobs": daily.jobs,
            **all_tables(daily, metric=metric),
        }
    )
    return document
