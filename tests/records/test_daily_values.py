"""Speeds, hours, trouble and days of daily reports against the list they were written from.

Origins: by hand from that list, which the reader does not see.
"""

from __future__ import annotations

import csv
import io
import random
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from report_writer import ONE, START, VERSIONS, Did, activities, document, report, write_days

from econ.records import parse_records
from econ.records.daily_reports import DailyReports, daily, draft_runs, speeds_fragment
from econ.records.daily_reports.trouble import Stretch
from econ.records.daily_reports.values import Value
from econ.scenario import ScenarioError

M = 1 / 0.3048


def read(folder: Path, done: list[Did], **more: object) -> DailyReports:
    folder.mkdir(exist_ok=True)
    for old in folder.glob("*.xml"):
        old.unlink()
    write_days(folder, done, **more)  # type: ignore[arg-type]
    return daily(folder)


def value(found: DailyReports, name: str, size: float | None = None) -> Value:
    known = found.value(name, size)
    assert known is not None, [each.name for each in found.values]
    return known


def metres(known: Value) -> tuple[float, float, float]:
    return known.p10 / M, known.p50 / M, known.p90 / M


# Trips -----------------------------------------------------------------------------------


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("how", ["bit", "md", "words"])
def test_trips_by_each_of_three_ways(tmp_path: Path, version: str, how: str) -> None:
    done = [Did(1, "trip", "Made up BHA", 0)]
    for speed in (300, 400, 500):
        depth = 2.0 * speed
        ways = {
            "bit": ("RIH", None, (0, depth), "POOH", (depth, 0)),
            "md": ("RIH with 8 1/2 in BHA", depth, None, "POOH", None),
            "words": (f"RIH from 0 m to {depth:,.0f} m", None, None, "POOH", None),
        }
        down, md, bit, up, back = ways[how]
        up = f"{up} from {depth:.0f} m to surface" if how == "words" else up
        done += [
            Did(2, "trip", down, md, bit=bit),
            Did(4, "trip", up, 0 if how == "md" else None, bit=back),
        ]
    found = read(tmp_path, done, version=version)
    assert value(found, "trip_in").cases == value(found, "trip_out").cases == 3
    assert metres(value(found, "trip_in")) == pytest.approx((320, 400, 480))
    assert metres(value(found, "trip_out")) == pytest.approx((160, 200, 240))


def test_a_depth_is_known_through_steps_that_tell_none(tmp_path: Path) -> None:
    meeting = Did(0.5, "other", "Toolbox talk")
    done = [
        Did(2, "trip", "RIH", 800),  # from where is not known
        meeting,
        Did(3, "trip", "POOH", 200),
    ]
    found = read(tmp_path, done)
    assert found.value("trip_in") is None
    assert metres(value(found, "trip_out"))[1] == pytest.approx(200)


def test_cased_and_open_legs(tmp_path: Path) -> None:
    done = [
        Did(2, "trip", "RIH", 1000, bit=(0, 1000)),  # all cased
        Did(2, "trip", "RIH", 1600, bit=(1000, 1600)),  # all open
        Did(3, "trip", "POOH", 0, bit=(1600, 0)),  # both: in any hole only
        Did(2, "trip", "RIH", 1100, bit=(0, 1100)),  # 100 of 1,100 m open: cased
    ]
    found = read(tmp_path, done, shoe=1000)
    assert metres(value(found, "trip_in_cased")) == pytest.approx((505, 525, 545))
    assert metres(value(found, "trip_in_open"))[1] == pytest.approx(300)
    assert value(found, "trip_in").cases == 3
    assert found.value("trip_out_open") is None
    assert found.value("trip_out_cased") is None
    assert value(found, "trip_out").cases == 1
    assert read(tmp_path, done).value("trip_in_cased") is None  # no shoe is told


@pytest.mark.parametrize(
    "what",
    [
        Did(2, "trip", "RIH", 190, bit=(0, 190)),  # short of 200 m
        Did(0.9, "trip", "RIH", 500, bit=(0, 500)),  # short of an hour
        Did(2, "trip", "Short trip to shoe, POOH", 500, bit=(1200, 500)),
        Did(2, "trip", "Backreamed out of hole, POOH", 500, bit=(1200, 500)),
        Did(4, "casing", "RIH with 9 5/8 in casing", 900, bit=(0, 900)),
        Did(4, "trip", "Ran liner, RIH", 900, bit=(0, 900)),
        Did(4, "completion -- completion string", "RIH with tubing", 900, bit=(0, 900)),
        Did(4, "trip", "POOH, string got stuck at 400 m", 400, bit=(900, 400)),
        Did(4, "trip", "POOH", 400, state="fail", bit=(900, 400)),
        Did(4, "trip", "POOH", 900, bit=(0, 900)),  # the words say out, the depths in
        Did(4, "trip", "Waited on orders, RIH", 900, bit=(0, 900)),
    ],
    ids=lambda each: each.text,
)
def test_what_is_no_trip(tmp_path: Path, what: Did) -> None:
    found = read(tmp_path, [what])
    assert not [each for each in found.values if each.name.startswith("trip")]


def at_random(rng: random.Random) -> tuple[list[Did], dict[str, float], list[float]]:
    """A list of what was done, with the hours of each sort and the speeds of its trips [m/h]."""
    done: list[Did] = []
    hours: dict[str, float] = {}
    speeds, depth = [], 0.0
    before = ""
    for _ in range(40):
        sort = rng.choice([s for s in ("trip", "drill", "circulate", "weather") if s != before])
        before = sort
        lasted = rng.choice([0.5, 1.5, 3.0, 7.25, 13.0, 26.0])
        if sort == "trip":
            goal = rng.choice([0.0, 150.0, 900.0, 1700.0, 2600.0])
            if goal == depth:
                goal += 400.0
            way = "trip_in" if goal > depth else "trip_out"
            words = "RIH" if goal > depth else "POOH"
            done.append(Did(lasted, "trip", words, goal, bit=(depth, goal)))
            if abs(goal - depth) >= 200 and lasted >= 1:
                speeds.append(abs(goal - depth) / lasted)
            depth, sort = goal, way
        else:
            done.append(Did(lasted, sort, "Went on"))
        hours[sort] = hours.get(sort, 0.0) + lasted
    return done, hours, sorted(speeds)


@pytest.mark.parametrize("seed", range(6))
def test_random_lists_told_by_day_give_back_their_hours_and_legs(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    done, hours, speeds = at_random(rng)
    start = START + timedelta(hours=rng.choice([0, 5.5, 13.25]))
    found = read(
        tmp_path,
        done,
        version=rng.choice(VERSIONS),
        start=start,
        report_hour=rng.choice([0, 6]),
        zone=rng.choice(["Z", "+01:00", "-06:00"]),
    )
    assert {each.sort: each.hours for each in found.spent} == pytest.approx(hours)
    both = [found.value(name) for name in ("trip_in", "trip_out")]
    assert sum(each.cases for each in both if each is not None) == len(speeds)
    known = [each for each in both if each is not None]
    lowest, highest = min(each.p10 for each in known), max(each.p90 for each in known)
    assert speeds[0] * M * 0.999 <= lowest <= highest <= speeds[-1] * M * 1.001
    assert found.twice == found.missing == 0


# Hours and rates ---------------------------------------------------------------------------


def test_hours_at_a_stretch(tmp_path: Path) -> None:
    done = [
        Did(20, "circulate", "Circulated"),
        Did(6, "circulate", "Circulated"),  # over midnight: 26 h at a stretch
        Did(1, "drill", "Drilled"),
        Did(2, "circulate", "Circulated"),
        Did(3, "trip", "Made up BHA", 50),
        Did(5, "log", "Logged"),
    ]
    found = read(tmp_path, done)
    assert (value(found, "circulate").p10, value(found, "circulate").p90) == (4.4, 23.6)
    assert value(found, "make_up").p50 == 3
    assert value(found, "logging").p50 == 5


@pytest.mark.parametrize("version", VERSIONS)
def test_cement_is_let_set_and_entered(tmp_path: Path, version: str) -> None:
    done = [
        Did(3, "plug", "Pumped balanced kick-off plug, pulled out of cement"),
        Did(4, "trip", "POOH", 0, bit=(1500, 0)),
        Did(10, "woc", "Waited on cement"),
        Did(5, "trip", "RIH", 1400, bit=(0, 1400)),
        Did(9, "woc", "Waited on cement"),
        Did(7, "trip", "RIH", 1450, bit=(1400, 1450)),
        Did(2, "drill", "Tagged cement at 1450 m, drilled cement"),
        Did(30, "woc", "Waiting on cement"),  # not for that plug any more
    ]
    found = read(tmp_path, done, version=version)
    assert value(found, "plug_hours").p50 == 3
    assert value(found, "woc").p50 == 4 + 10 + 5 + 9  # trips hide a part of it
    assert value(found, "cement_to_entry").p50 == 4 + 10 + 5 + 9 + 7
    assert value(found, "wait_on_cement").cases == 3


def test_drilling_by_hole_size(tmp_path: Path) -> None:
    first = [
        Did(10, "drill", "Drilled", hole=(1000, 1200)),
        Did(2, "drill", "Flow checked, well static"),
        Did(12, "repair", "Repaired pump"),
    ]
    found = read(tmp_path / "a", first, hole_size=12.25)
    assert value(found, "drilling", 12.25).p50 / M == pytest.approx(200 / 12)
    chain = [
        Did(1, "drill", "Drilled from 2,000 m to 2,010 m at ROP 10-30 m/hr", 2010),
        Did(11, "drill", "Drilled ahead", 2120),
        Did(12, "drill", "Drilled ahead", 2240),
    ]
    found = read(tmp_path / "b", chain, hole_size=8.5)
    assert value(found, "drilling", 8.5).p50 / M == pytest.approx(10)
    gross = [
        Did(6, "drill", "Drilled", hole=(1000, 1100)),
        Did(2, "circulate", "Circulated between stands"),
        Did(3, "repair", "Repaired pump"),
        Did(6, "drill", "Drilled", hole=(1100, 1240)),
        Did(5, "circulate", "Circulated clean before the trip"),
    ]
    found = read(tmp_path / "d", gross, hole_size=8.5)
    assert value(found, "drilling", 8.5).p50 / M == pytest.approx(240 / 14)
    short = [Did(1.5, "drill", "Drilled", hole=(1000, 1200))]
    assert read(tmp_path / "c", short, hole_size=8.5).values == ()


def test_time_lost(tmp_path: Path) -> None:
    done = [Did(12, "drill", "Drilled"), Did(6, "weather", "WOW"), Did(6, "repair", "Repaired")]
    found = read(tmp_path, done)
    assert (found.weather, found.repair) == (0.25, 0.25)


# Trouble ------------------------------------------------------------------------------------

JOB = [
    Did(20, "drill", "Drilled ahead", 2500, hole=(2300, 2500)),
    Did(2, "trip", "POOH, string got stuck at 2450 m, differential sticking", 2450, state="fail"),
    Did(10, "fish", "Jarred and worked string, no movement", 2450),
    Did(6, "fish", "Ran free point and string shot, backed off at 2300 m, string backed off", 2450),
    Did(8, "trip", "POOH", 0, bit=(2300, 0)),
    Did(2, "fish", "Held toolbox talk"),
    Did(14, "fish", "RIH with overshot and jars, engaged fish, jarred, no success", 2300),
    Did(12, "weather", "Waited on weather"),
    Did(8, "fish", "POOH, laid down overshot", 0),
    Did(12, "fish", "RIH with overshot", 2300),
    Did(9, "fish", "Caught fish. POOH with fish, laid down fish", 0),
    Did(20, "drill", "Drilled ahead", 2600, hole=(2500, 2600)),
]


def runs(found: DailyReports) -> list[tuple[str, str, str]]:
    return [(each.what, each.kind, each.outcome) for each in found.stretches]


@pytest.mark.parametrize("version", VERSIONS)
def test_a_job_is_parted_into_runs_with_proposals(tmp_path: Path, version: str) -> None:
    found = read(tmp_path, JOB, version=version)
    assert found.jobs == 1
    assert runs(found) == [
        ("stuck", "work_jar", "unfinished"),  # never free: censored, not failed
        ("cut", "freepoint_backoff", "prepared"),
        ("fish", "overshot", "nothing"),
        ("fish", "overshot", "recovered"),
    ]
    assert [each.run for each in found.stretches] == [1, 2, 3, 4]
    assert [each.hours for each in found.stretches] == pytest.approx([12, 6, 22, 21])  # no meeting
    first = found.stretches[0]
    assert first.cause == "differential"
    assert first.start == "2026-03-01T20:00+00:00"
    assert first.depth == pytest.approx(2450 * M)
    fish = found.stretches[2]
    # weather inside fishing is in no hours of tools, and stays in what has elapsed
    assert fish.elapsed == pytest.approx(14 + 12 + 8)


def test_a_soak_is_a_run_of_its_own(tmp_path: Path) -> None:
    done = [
        Did(4, "drill", "String got stuck, jarred, no movement", 2000),
        Did(6, "fish", "Spotted pill around the string and let it soak", 2000),
        Did(5, "fish", "Waited on pill to soak, worked string now and then", 2000),
        Did(3, "fish", "Jarred down, pulled free", 2000),
    ]
    found = read(tmp_path, done)
    assert runs(found) == [
        ("stuck", "work_jar", "unfinished"),
        ("stuck", "soak", "unfinished"),
        ("stuck", "work_jar", "recovered"),
    ]
    assert [each.hours for each in found.stretches] == [4, 11, 3]


def test_where_the_days_went(tmp_path: Path) -> None:
    found = read(tmp_path, JOB)
    spent = {each.sort: each for each in found.spent}
    assert sum(each.hours for each in found.spent) == pytest.approx(sum(d.hours for d in JOB))
    assert spent["drill"].plan == 40
    # all from the first to the last hour of the job, trips and weather too
    assert sum(each.fishing for each in found.spent) == pytest.approx(2 + 10 + 6 + 8 + 2 + 12 + 43)
    assert spent["weather"].fishing == 12
    assert sum(each.consequence for each in found.spent) == 0


def test_what_a_job_led_to_lasts_until_the_depth_is_regained(tmp_path: Path) -> None:
    done = [
        *JOB[:4],
        Did(5, "plug", "Set kick-off plug", 2200),
        Did(20, "woc", "Waited on cement"),
        Did(6, "drill", "Drilled cement", 2200),
        Did(9, "sidetrack", "Kicked off, time drilled", 2220),
        Did(20, "drill", "Drilled", 2480, hole=(2220, 2480)),
        Did(4, "drill", "Drilled", 2530, hole=(2480, 2530)),
        Did(10, "drill", "Drilled", 2600, hole=(2530, 2600)),
    ]
    found = read(tmp_path, done)
    spent = {each.sort: each for each in found.spent}
    assert sum(each.consequence for each in found.spent) == pytest.approx(5 + 20 + 6 + 9 + 24)
    assert spent["drill"].plan == 20 + 10
    after = [each for each in found.stretches if each.job.endswith("fallback")]
    assert [each.what for each in after] == ["plug", "sidetrack"]
    assert {each.kind + each.outcome for each in after} == {""}
    # a string that came free leads to no plug
    freed = [done[0], replace(done[1], text="String got stuck, pulled free"), *done[4:]]
    assert sum(each.consequence for each in read(tmp_path, freed).spent) == 0


@pytest.mark.parametrize(("between", "deeper", "jobs"), [(10, 0, 1), (30, 0, 2), (10, 300, 2)])
def test_gaps_under_a_day_at_the_same_depth_belong_together(
    tmp_path: Path, between: float, deeper: float, jobs: int
) -> None:
    stuck = Did(3, "trip", "String got stuck, jarred", 2400, detail="stuck equipment")
    done = [stuck, Did(between, "circulate", "Circulated", 2400)]
    done.append(replace(stuck, depth=2400 + deeper))
    assert read(tmp_path, done).jobs == jobs


def test_a_stick_under_another_code_is_found_by_state_or_strong_words(tmp_path: Path) -> None:
    for did, jobs in (
        (Did(3, "trip", "Tight hole, string stuck", 2000, state="fail"), 1),
        (Did(3, "drill", "Held up", 2000, detail="stuck equipment"), 1),
        (Did(3, "drill", "Pipe stuck, jarred free", 2000), 1),
        (Did(3, "drill", "Held stuck pipe drill", 2000), 0),
        (Did(3, "drill", "No stuck pipe", 2000), 0),
        (Did(3, "trip", "Drift got stuck", 20), 0),  # the bit is out of the hole
        (Did(3, "plug abandon -- other", "Engaged spear, pulled casing free", 900), 0),
    ):
        assert read(tmp_path, [did]).jobs == jobs, did


def test_freed_within_the_stretch(tmp_path: Path) -> None:
    done = [Did(3, "drill", "Stuck pipe at 2000 m, jarred down, pulled free", 2000)]
    (only,) = read(tmp_path, done).stretches
    assert (only.kind, only.outcome) == ("work_jar", "recovered")


# The draft ------------------------------------------------------------------------------------


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_an_unmarked_draft_is_not_taken_and_a_marked_one_is(tmp_path: Path) -> None:
    found = read(tmp_path, JOB)
    text = draft_runs(found)
    with pytest.raises(ScenarioError, match="not one of 4 rows can be taken"):
        parse_records(text)
    table = rows(text)
    assert {row["kind"] + row["outcome"] for row in table} == {""}
    for row, each in zip(table, found.stretches, strict=True):
        assert row["remark"].startswith(f"PROPOSED kind {each.kind}, outcome {each.outcome}.")
    assert "toolbox talk" in table[1]["remark"]  # the report's own words
    marks = ["nothing", "prepared", "nothing", "recovered"]
    for row, outcome, each in zip(table, marks, found.stretches, strict=True):
        row["kind"], row["outcome"] = each.kind, outcome
    out = io.StringIO()
    writer = csv.DictWriter(out, list(table[0]))
    writer.writeheader()
    writer.writerows(table)
    past = parse_records(out.getvalue())
    assert not past.rejected
    assert list(past.run) == [1, 2, 3, 4]
    # by the clock from the first hour of the job to the last, trips and weather among them
    clock = 2 + 10 + 6 + 8 + 2 + 14 + 12 + 8 + 12 + 9
    assert past.after[-1] - past.before[0] == pytest.approx(clock)
    assert past.depth[0] == pytest.approx(2450 * M, rel=1e-5)


def test_one_row_left_unmarked_takes_its_job_out(tmp_path: Path) -> None:
    table = rows(draft_runs(read(tmp_path, JOB)))
    for row in table[:3]:
        row["kind"], row["outcome"] = "overshot", "nothing"
    out = io.StringIO()
    writer = csv.DictWriter(out, list(table[0]))
    writer.writeheader()
    writer.writerows(table)
    with pytest.raises(ScenarioError):
        parse_records(out.getvalue())


def test_no_cell_of_a_draft_is_a_formula(tmp_path: Path) -> None:
    done = [Did(3, "stuck pipe", '=HYPERLINK("http://x")\n@SUM(A1), string got stuck', 2000)]
    made = activities(done)
    text = document([report([made[0][2]], well="=1+1")])
    (tmp_path / "x.xml").write_text(text, encoding="utf-8")
    (row,) = rows(draft_runs(daily(tmp_path / "x.xml")))
    assert row["job"].startswith("'=1+1")
    assert all(not cell.startswith(("=", "+", "-", "@")) for cell in row.values())
    assert "\n" not in row["remark"]
    assert len(row["remark"]) <= 1000


def test_metric_drafts_and_fragments_say_the_same(tmp_path: Path) -> None:
    found = read(tmp_path, JOB, hole_size=8.5)
    field, metric = (rows(draft_runs(found, units=units)) for units in ("field", "metric"))  # type: ignore[arg-type]
    assert float(metric[0]["depth"]) == pytest.approx(2450, rel=1e-5)
    assert float(field[0]["depth"]) == pytest.approx(2450 * M, rel=1e-5)
    assert float(metric[0]["hole_size"]) == pytest.approx(215.9)
    assert 'units = "metric"' in speeds_fragment(found, units="metric")
    with pytest.raises(ValueError, match="furlong"):
        draft_runs(found, units="furlong")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="furlong"):
        speeds_fragment(found, units="furlong")  # type: ignore[arg-type]


def test_long_texts_are_cut_in_the_middle() -> None:
    from econ.records.daily_reports.draft import remark

    each = Stretch(
        *("J", 1, "stuck", "work_jar", "recovered", "free", "", "W", "", "", 1.0, 1.0, None),
        *(None, "x.xml", "y" * 5000),
    )
    assert len(remark(each)) <= 990


def test_reports_of_two_wellbores_of_a_well_are_one_line_of_time(tmp_path: Path) -> None:
    main = activities(JOB[:4])
    later = START + timedelta(hours=sum(each.hours for each in JOB[:4]))
    side = activities(
        [Did(5, "plug", "Set kick-off plug"), Did(9, "sidetrack", "Kicked off", 2220)], start=later
    )
    texts = [
        report([each[2] for each in main], hours=38, version=ONE, wellbore="Invented 1 A"),
        report([each[2] for each in side], start=later, wellbore="Invented 1 B"),
    ]
    (tmp_path / "x.xml").write_text(document(texts), encoding="utf-8")
    found = daily(tmp_path / "x.xml")
    assert found.wells == ("Invented 1",)
    assert sum(each.consequence for each in found.spent) == pytest.approx(14)
