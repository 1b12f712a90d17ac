"""The run log: good tables read back, each fault told with its row, any text survived.

Origin of the expected values: rows are counted by hand in the texts below; words are the
contract of the messages (where, what was given, what is allowed, what to do); depths and
dates are those of the invented case in scenarios/point.
"""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stuck_string import STUCK

from econ.scenario import Scenario, ScenarioError, load, parse
from econ.scenario.run_log import (
    COLUMNS,
    LogFault,
    LoggedRun,
    decided_at,
    parse_log,
    read_log,
)

ROOT = Path(__file__).parents[2]
CASE = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"
TEXT = CASE.read_text(encoding="utf-8")
A = load(CASE)  # top 11,180 ft, bottom 11,850 ft, decided 2026-03-14T06:00; runs by kind:
# 1 overshot, 2 overshot, 3 wall_hook, 4 and 5 wash_then_catch
PLAIN = COLUMNS[:9]  # without marks
HEADER = ",".join(PLAIN)
FIRST = "1,overshot,2026-03-14T06:00,2026-03-15T10:00,nothing,,ragged,76000,first"
SECOND = "2,overshot,2026-03-15T10:00,2026-03-17T12:00,part,11259,clean,136000.5,second"
THIRD = "3,wall_hook,2026-03-17T12:00,2026-03-18T14:00,nothing,,,,"
RUNS = (
    LoggedRun(
        *(2, 0, datetime(2026, 3, 14, 6), datetime(2026, 3, 15, 10), "nothing"),
        *(None, "ragged", 76000.0, "first"),
    ),
    LoggedRun(
        *(3, 1, datetime(2026, 3, 15, 10), datetime(2026, 3, 17, 12), "part"),
        *(11259.0, "clean", 136000.5, "second"),
    ),
)
LIBRARY_WORDS = ("traceback", "csv.", "isoformat", "strptime", "<class", "typing.")


def table(*rows: str) -> str:
    """A log of these rows, header first."""
    return "\n".join([HEADER, *rows]) + "\n"


def changed(*replacements: tuple[str, str], text: str = TEXT) -> Scenario:
    """The scenario with the first of each old text replaced, which must be there."""
    for old, new in replacements:
        assert old in text, old
        text = text.replace(old, new, 1)
    return parse(text)


def faults_of(text: str, scenario: Scenario = A) -> list[LogFault]:
    """The faults of a log, every one with its row and in plain printable words."""
    with pytest.raises(ScenarioError) as caught:
        parse_log(text, scenario, file="runs.csv")
    found = [fault for fault in caught.value.faults if isinstance(fault, LogFault)]
    assert len(found) == len(caught.value.faults)
    message = str(caught.value)
    assert len(message.split("\n")) == len(found)
    assert all(" " <= char <= "~" or char == "\n" for char in message)
    assert not [word for word in LIBRARY_WORDS if word in message.lower()]
    for fault in found:
        place = ", ".join([f"runs.csv row {fault.line}", *map(str, fault.path)])
        assert str(fault).startswith(f"{place}: given {fault.given}; allowed: {fault.allowed}")
        assert len(str(fault)) < 500
    return found


class Bad(NamedTuple):
    """Rows below the header, and the one fault they must give."""

    rows: list[str]
    row: int
    column: str
    given: str
    allowed: str
    suggestion: str = ""


def first(**cells: str) -> str:
    """The first row with other cells."""
    values = dict(zip(PLAIN, FIRST.split(","), strict=True))
    return ",".join({**values, **cells}.values())


def second(**cells: str) -> str:
    """The second row with other cells."""
    values = dict(zip(PLAIN, SECOND.split(","), strict=True))
    return ",".join({**values, **cells}.values())


CELLS = [
    Bad([first(run="0")], 2, "run", "'0'", "one of the 5 runs of the program", "[[run]]"),
    Bad([first(run="6")], 2, "run", "'6'", "one of the 5 runs of the program", "[[run]]"),
    Bad([first(run="-1")], 2, "run", "'-1'", "5 runs"),
    Bad([first(run="1.0")], 2, "run", "'1.0'", "by number from 1"),
    Bad([first(run="one")], 2, "run", "'one'", "by number from 1"),
    Bad([first(run="9" * 5000)], 2, "run", "'999", "5 runs"),
    Bad([first(run="\u0661")], 2, "run", "u0661", "5 runs"),
    Bad([first(kind="wall_hook")], 2, "kind", "'wall_hook'", "overshot, the kind of run 1"),
    Bad(
        [first(run="", kind="overshoot")],
        *(2, "kind", "'overshoot'", "the kind of one not logged yet: overshot, wall_hook, wash_"),
        "did you mean overshot?",
    ),
    Bad([first(run="", kind="Wall hook")], 2, "kind", "'Wall", "wall", "did you mean wall_hook?"),
    Bad([first(run="", kind="spear")], 2, "kind", "'spear'", "not logged yet: overshot, wall_hook"),
    Bad([first(run="", kind="")], 2, "kind", "an empty cell", "the number of a run, or the kind"),
    Bad([first(start="")], 2, "start", "an empty cell", "ISO date", "such as 2026-03-15T14:30"),
    Bad([first(end="")], 2, "end", "an empty cell", "ISO date", "such as 2026-03-15T14:30"),
    Bad([first(end="15/03/2026 10:00")], 2, "end", "'15/03/2026 10:00'", "ISO", "2026-03-15T14:30"),
    Bad([first(end="2026-03-15")], 2, "end", "'2026-03-15'", "ISO", "2026-03-15T14:30"),
    Bad([first(end="2026-02-30T10:00")], 2, "end", "'2026-02-30T10:00'", "an ISO date and time"),
    Bad([first(end="2026-03-15T10:00+99:00")], 2, "end", "+99:00'", "an ISO date and time"),
    Bad([first(end="20260315T1000")], 2, "end", "'20260315T1000'", "ISO", "2026-03-15T14:30"),
    Bad([first(end="today")], 2, "end", "'today'", "ISO", "2026-03-15T14:30"),
    Bad([first(outcome="")], 2, "outcome", "an empty cell", "recovered, part, nothing, prep"),
    Bad([first(outcome="recoverd")], 2, "outcome", "'recoverd'", "recovered", "mean recovered?"),
    Bad([first(outcome="Nothing")], 2, "outcome", "'Nothing'", "nothing", "mean nothing?"),
    Bad([first(outcome="TOP DAMAGED")], 2, "outcome", "'TOP D", "top_d", "mean top_damaged?"),
    Bad([first(outcome="lost")], 2, "outcome", "'lost'", "string_lost, hole_lost"),
    Bad([first(fish_top="deep")], 2, "fish_top", "'deep'", "a depth [ft], from 0", "11240.5"),
    Bad([first(fish_top="-5")], 2, "fish_top", "'-5'", "from 0 to 1e+15"),
    Bad([first(fish_top="nan")], 2, "fish_top", "'nan'", "in digits"),
    Bad([first(fish_top="11_180")], 2, "fish_top", "'11_180'", "in digits"),
    Bad([first(fish_top='"11,180"')], 2, "fish_top", "'11,180'", "in digits", "11240.5"),
    Bad([first(top_condition="raged")], 2, "top_condition", "'raged'", "clean,", "mean ragged?"),
    Bad([first(cost="-1")], 2, "cost", "'-1'", "money spent [USD], from 0"),
    Bad([first(cost="USD 76000")], 2, "cost", "'USD 76000'", "in digits", "11240.5"),
    Bad([first(cost="inf")], 2, "cost", "'inf'", "from 0 to 1e+15"),
    Bad([first(cost="1e16")], 2, "cost", "'1e16'", "from 0 to 1e+15"),
    Bad([first(cost="9" * 5000)], 2, "cost", "'999", "from 0 to 1e+15"),
    Bad([first(remark="x" * 301)], 2, "remark", "'xxx", "up to 300 characters"),
    Bad([first(remark="\x1b[31m")], 2, "remark", "x1b[31m", "no control characters"),
    Bad([first(remark="\0")], 2, "remark", "x00", "no control characters"),
    Bad([first() + ",more"], 2, "", "the further cell 'more'", "9 cells", ""),
]

CONTRADICTIONS = [
    Bad(
        [first(end="2026-03-14T05:59")],
        *(2, "end", "2026-03-14T05:59:00", "at or after the start, 2026-03-14T06:00:00", "times"),
    ),
    Bad(
        [first(start="2026-03-14T05:59")],
        *(2, "start", "2026-03-14T05:59:00", "decided_at of the scenario, 2026-03-14T06:00:00"),
        "leave out runs before it",
    ),
    Bad(
        [FIRST, second(start="2026-03-15T09:59")],
        *(3, "start", "2026-03-15T09:59:00", "the end in row 2, 2026-03-15T10:00:00", "order made"),
    ),
    Bad(
        [first(end="2062-03-15T10:00"), second(end="2026-03-17T12:00"), THIRD],
        *(3, "start", "2026-03-15T10:00:00", "the end in row 2, 2062-03-15T10:00:00"),
    ),
    Bad(
        [first(fish_top="11850")], 2, "fish_top", "11850", "less than the bottom of the fish, 1185"
    ),
    Bad(
        [first(fish_top="99999")], 2, "fish_top", "99999", "less than the bottom of the fish, 1185"
    ),
    Bad(
        [first(fish_top="11181.01")],
        *(2, "fish_top", "11181.01", "the top before, 11180, within 1", "the outcome is part"),
    ),
    Bad([first(fish_top="11178.99")], 2, "fish_top", "11178.99", "the top before, 11180, within 1"),
    Bad(
        [first(outcome="top_damaged", fish_top="11190")],
        *(2, "fish_top", "11190", "the top before, 11180, within 1"),
    ),
    Bad(
        [FIRST, second(fish_top="11180")],
        *(3, "fish_top", "11180", "more than the top before, 11180", "correct the depth"),
    ),
    Bad(
        [FIRST, second(fish_top="11000")],
        *(3, "fish_top", "11000", "more than the top before, 11180", "correct the depth"),
    ),
    # the top that the second row gives holds from then on
    Bad(
        [FIRST, SECOND, THIRD.replace("nothing,", "part,11200")],
        *(4, "fish_top", "11200", "more than the top before, 11259"),
    ),
    # after a part that was not measured the top may be anywhere below, but not above
    Bad(
        [FIRST, second(fish_top=""), THIRD.replace("nothing,", "nothing,11100")],
        *(4, "fish_top", "11100", "the top before, from 11180 to 11850, within 1"),
    ),
    # one such measurement settles it
    Bad(
        [
            *(FIRST, second(fish_top=""), THIRD.replace("nothing,", "nothing,11300")),
            "4,,2026-03-18T14:00,2026-03-19T14:00,nothing,11400,,,",
        ],
        *(5, "fish_top", "11400", "the top before, 11300, within 1"),
    ),
    Bad(
        [first(outcome="recovered", fish_top="11180")],
        *(2, "fish_top", "11180", "an empty cell after recovered"),
    ),
    Bad(
        [first(outcome="string_lost", fish_top="11200")],
        *(2, "fish_top", "11200", "at most the top before, 11180"),
    ),
    *(
        Bad(
            [first(outcome=outcome), second(fish_top="")],
            *(3, "", f"a run after {outcome} in row 2", "no row after it", "correct that outcome"),
        )
        for outcome in ("recovered", "string_lost", "hole_lost")
    ),
    # a run is made again only where its number says so
    Bad(
        [
            *(first(run=""), second(run="")),
            ",overshot,2026-03-17T12:00,2026-03-18T12:00,nothing,,,,",
        ],
        *(4, "kind", "'overshot'", "not logged yet: wall_hook, wash_then_catch"),
        "if made again, write run = 1",
    ),
    Bad(
        [first(start="2026-03-14T06:00Z", end="2026-03-15T10:00Z")],
        *(2, "start", "'2026-03-14T06:00Z', with a time zone", "without one, as decided_at"),
        "write all times and decided_at with a time zone, or all without",
    ),
    Bad(
        [FIRST, second(end="2026-03-17T12:00+01:00")],
        *(3, "end", "'2026-03-17T12:00+01:00', with a time zone", "a time without one"),
    ),
]


@pytest.mark.parametrize("bad", [*CELLS, *CONTRADICTIONS], ids=lambda bad: f"{bad.rows[-1]}"[:60])
def test_fault_is_told_with_its_row(bad: Bad) -> None:
    (fault,) = faults_of(table(*bad.rows))
    assert (fault.line, fault.path) == (bad.row, (bad.column,) if bad.column else ())
    assert bad.given in fault.given
    assert bad.allowed in fault.allowed
    assert bad.suggestion in fault.suggestion


def test_message_in_full() -> None:
    (fault,) = faults_of(table(FIRST, second(outcome="prt")))
    assert str(fault) == (
        "runs.csv row 3, outcome: given 'prt'; allowed: recovered, part, nothing, prepared, "
        "top_damaged, string_lost, hole_lost, reads_workable, reads_stubborn, "
        "unfinished; did you mean part?"
    )


@pytest.mark.parametrize(
    ("header", "given", "allowed", "suggestion"),
    [
        ("run,strat,end,outcome", "the unknown column 'strat'", "start", "did you mean start?"),
        ("run,Start,end,outcome", "the unknown column 'Start'", "start", "did you mean start?"),
        ("run,start,end,outcome,fish top", "column 'fish top'", "fish_top", "mean fish_top?"),
        ("run,start,end,outcome,crew", "the unknown column 'crew'", HEADER.replace(",", ", "), ""),
        ("run,start,,end,outcome", "the unknown column ''", "columns are run", ""),
        ("run,start,start,end,outcome", "the column start twice", "each column once", ""),
        ("run,end,outcome", "no column start", "start, end, outcome", "add the column start"),
        ("run,start,outcome", "no column end", "start, end, outcome", "add the column end"),
        ("run,start,end", "no column outcome", "start, end, outcome", "add the column outcome"),
        ("start,end,outcome", "no column run or kind", "run or kind", "add the column run or kind"),
        ("run|start|end", "1 columns that begin 'run|start|end'", "a header", "first row"),
        ("run\tstart\tend", "no column outcome", "start, end, outcome", "add the column outcome"),
        (FIRST, "9 columns that begin '1', 'overshot'", "a header", "header as the first row"),
        ("run," * 60, "60 columns that begin 'run', 'run', 'run'", "a header", "first row"),
    ],
)
def test_fault_of_the_header(header: str, given: str, allowed: str, suggestion: str) -> None:
    (fault,) = faults_of(f"{header}\n")
    assert (fault.line, fault.path) == (1, ("header",))
    assert given in fault.given
    assert allowed in fault.allowed
    assert suggestion in fault.suggestion


def test_rows_below_a_faulty_header_are_checked_where_they_can_be() -> None:
    found = faults_of("run,strat,end,outcome\n1,2026-03-14T06:00,soon,nothing\n7,,soon,nothin\n")
    assert [(fault.line, fault.path) for fault in found] == [
        *((1, ("header",)), (2, ("end",))),
        *((3, ("run",)), (3, ("end",)), (3, ("outcome",))),
    ]
    # without run and kind no row is blamed for what the header lacks
    found = faults_of("start,end,outcome\n2026-03-14T06:00,2026-03-14T07:00,part\n")
    assert [fault.line for fault in found] == [1]
    found = faults_of("run,start,end,outcome\n,2026-03-14T06:00,2026-03-14T07:00,part\n")
    assert [(fault.line, fault.path, fault.given) for fault in found] == [
        (2, ("run",), "an empty cell")
    ]


def test_all_faults_come_at_once_in_the_order_of_the_rows() -> None:
    text = table(
        first(run="9", cost="-1"),
        second(kind="spear", end="soon", outcome="prt"),
        "",
        THIRD.replace("2026-03-18", "2026-03-16"),
    )
    assert [(fault.line, fault.path) for fault in faults_of(text)] == [
        *((2, ("run",)), (2, ("cost",))),
        *((3, ("kind",)), (3, ("end",)), (3, ("outcome",))),
        (5, ("end",)),
    ]


@pytest.mark.parametrize(
    ("text", "row", "given"),
    [
        ("", 1, "an empty table"),
        ("\n\n , ,\n", 1, "an empty table"),
        ('"', 1, "a row that cannot be split"),
        (table(first(remark='"no end'), SECOND), 2, "a row that cannot be split"),
        (table(FIRST, second(remark='"a"b')), 3, "a row that cannot be split"),
        (table(first(remark="x" * 140_000)), 2, "a row that cannot be split"),
        ("x" * 10_000_000, 1, "10000000 characters"),
        ("," * 1_000_000, 1, "an empty table"),
        ("a," * 900_000, 1, "900000 columns that begin"),
        ("\0" * 100, 1, "1 columns that begin"),
    ],
    ids=["empty", "blank", "quote", "open", "after", "cell", "long", "commas", "columns", "nul"],
)
def test_table_that_cannot_be_read(text: str, row: int, given: str) -> None:
    (fault,) = faults_of(text)
    assert fault.line == row
    assert given in fault.given


def test_a_row_may_be_wide_and_a_table_long() -> None:
    (fault,) = faults_of(table(FIRST + "," * 500_000 + "x"))
    assert (fault.line, fault.given) == (2, "the further cell 'x'")
    row = "1,,2026-03-14T06:00,2026-03-14T06:00,nothing,,,,"
    assert len(parse_log(table(*[row] * 1000), A)) == 1000
    (fault,) = faults_of(table(*[row] * 1001))
    assert (fault.line, fault.given) == (1002, "more than 1000 runs")


# Good logs.


def test_log_is_read() -> None:
    assert parse_log(table(FIRST, SECOND), A) == RUNS


def test_log_without_rows_is_no_run() -> None:
    assert parse_log(HEADER, A) == ()


def written(*, delimiter: str, ending: str, columns: list[str]) -> str:
    """The two runs as another program might write them."""
    rows = [dict(zip(PLAIN, row.split(","), strict=True)) for row in (FIRST, SECOND)]
    out = io.StringIO()
    writer = csv.DictWriter(
        out, columns, extrasaction="ignore", delimiter=delimiter, lineterminator=ending
    )
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"], ids=ascii)
@pytest.mark.parametrize("delimiter", [",", ";"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["no mark", "byte order mark"])
@pytest.mark.parametrize("turn", [1, -1])
def test_round_trip(tmp_path: Path, *, ending: str, delimiter: str, mark: bytes, turn: int) -> None:
    text = written(delimiter=delimiter, ending=ending, columns=PLAIN[::turn])
    path = tmp_path / "runs.csv"
    path.write_bytes(mark + text.encode())
    assert read_log(path, A) == read_log(str(path), A) == RUNS
    assert parse_log(mark.decode() + text, A) == RUNS


@pytest.mark.parametrize("left_out", ["run", "kind"])
def test_run_or_kind_is_enough(left_out: str) -> None:
    columns = [column for column in PLAIN if column != left_out]
    assert parse_log(written(delimiter=",", ending="\n", columns=columns), A) == RUNS


def test_optional_columns_are_optional() -> None:
    columns = ["kind", "start", "end", "outcome"]
    (one, two) = parse_log(written(delimiter=";", ending="\n", columns=columns), A)
    assert (one.fish_top, one.top_condition, one.cost, one.remark) == (None, None, None, "")
    assert two.run == 1


def test_row_without_number_is_the_first_run_of_its_kind_not_logged() -> None:
    rows = ["2,,2026-03-14T06:00,2026-03-14T07:00,nothing,,,,"]
    rows += [f",{kind},2026-03-15T06:00,2026-03-15T06:00,nothing,,,," for kind in KINDS]
    assert [run.run for run in parse_log(table(*rows), A)] == [1, 3, 0, 4, 2]


KINDS = ["wash_then_catch", "overshot", "wash_then_catch", "wall_hook"]


def test_run_made_again_says_so() -> None:
    again = second(run="1", outcome="nothing", fish_top="")
    assert [run.run for run in parse_log(table(FIRST, again), A)] == [0, 0]
    # and a run already logged is not meant by its kind
    third = THIRD.replace("3,wall_hook", ",overshot")
    assert [run.run for run in parse_log(table(FIRST, again, third), A)] == [0, 0, 1]


def test_quotes_spaces_blank_rows_and_lines_within_a_cell() -> None:
    text = (
        f"\n;;;\n{HEADER.replace(',', '; ')};;\n\n"
        " 1 ; overshot; 2026-03-14 06:00 ;2026-03-15T10:00:30.5; nothing;;; 1e3 "
        ';  "a; ""b""\n\n c"\n'
        ";;;;;;;;\n"
        "2;;2026-03-16T10:00;2026-03-16T11:00;nothing\n"
    )
    (one, two) = parse_log(text, A)
    assert (one.row, one.cost, one.remark) == (5, 1000.0, 'a; "b" c')
    assert one.end == datetime(2026, 3, 15, 10, 0, 30, 500_000)
    assert (two.row, two.remark) == (9, "")


@pytest.mark.parametrize(
    ("outcome", "top"),
    [
        *(("nothing", "11181"), ("nothing", "11179"), ("top_damaged", "11180.5")),
        *(("part", "11180.1"), ("part", "11849")),
        *(("string_lost", "10830"), ("string_lost", "11181"), ("hole_lost", "11000")),
    ],
)
def test_fish_top_that_agrees(outcome: str, top: str) -> None:
    (run,) = parse_log(table(first(outcome=outcome, fish_top=top)), A)
    assert run.fish_top == float(top)


def test_demo_log_is_read_for_both_demo_scenarios() -> None:
    path = ROOT / "scenarios" / "logs" / "a_two_runs.csv"
    for scenario in (A, load(ROOT / "scenarios" / "a_land_twist_off.toml")):
        one, two = read_log(path, scenario)
        assert (one.run, one.outcome, two.run, two.outcome) == (0, "nothing", 1, "part")
        assert two.fish_top is not None
        assert one.end <= two.start
        assert one.cost
        assert two.cost
    assert all("Invented" in run.remark for run in (one, two))
    path.read_text(encoding="ascii")


# Time zones.


def test_times_with_zones_are_compared_as_moments() -> None:
    zoned = changed(("2026-03-14T06:00:00", "2026-03-14T06:00:00Z"))
    # 07:00 at +02:00 is 05:00 UTC, before the decision (independent: subtraction by hand)
    early = first(start="2026-03-14T07:00+02:00", end="2026-03-14T09:00Z")
    (fault,) = faults_of(table(early), zoned)
    assert fault.path == ("start",)
    (run,) = parse_log(table(early.replace("07:00+", "08:00+")), zoned)
    assert run.start == datetime(2026, 3, 14, 6, tzinfo=UTC)
    (fault,) = faults_of(table(FIRST, SECOND), zoned)  # the whole log differs: one fault
    assert (fault.line, fault.path) == (2, ("start",))
    assert "without a time zone" in fault.given


@pytest.mark.parametrize("zone", ["", "Z", "-05:00"])
def test_decision_on_a_date_is_its_midnight_in_the_zone_of_the_log(zone: str) -> None:
    dated = changed(("2026-03-14T06:00:00", "2026-03-14"))
    row = first(start=f"2026-03-14T00:00{zone}", end=f"2026-03-14T01:00{zone}")
    (run,) = parse_log(table(row), dated)
    assert decided_at(dated, like=run.start) == run.start
    row = first(start=f"2026-03-13T23:59{zone}", end=f"2026-03-14T01:00{zone}")
    (fault,) = faults_of(table(row), dated)
    assert fault.path == ("start",)


def test_decision_without_a_time_binds_no_run() -> None:
    undated = changed(("decided_at = 2026-03-14T06:00:00", ""))
    (run,) = parse_log(table(first(start="1999-01-01T00:00")), undated)
    assert decided_at(undated, like=run.start) is None
    assert decided_at(A, like=run.start) == datetime(2026, 3, 14, 6)
    mixed = first(start="1999-01-01T00:00Z")
    (fault,) = faults_of(table(mixed), undated)
    assert (fault.path, "as decided_at or the rows before" in fault.allowed) == (("end",), True)


# Odds, lengths and units: a small metric job.
METRIC = """
schema = 1
units = "metric"
currency = "EUR"
[job]
well = "Invented 1"
[well]
depth = 3600
hole_diameter = 216
shoe_depth = 1300
[rates]
rig = 50000
[fishing]
workable = 0.5
damaged_top_factor = 0.5
[fish]
top = 3400
bottom = 3500
[[run]]
name = "Overshot"
kind = "overshot"
hours = 20
[run.odds]
workable = { recovered = 0.5, part = 0.1, top_damaged = 0.4 }
stubborn = { nothing = 0.6, part = 0.1, top_damaged = 0.3 }
[[run]]
name = "Spear"
kind = "spear"
hours = 20
part_length = 10
[run.odds]
workable = { recovered = 1.0 }
stubborn = { nothing = 1.0 }
[[run]]
name = "Mill"
kind = "junk_mill"
hours = 20
dresses_top = true
odds = { recovered = 0.5, nothing = 0.5 }
[[fallback]]
name = "Window"
hours = 200
"""
EUR = parse(METRIC)


def log(*cells: tuple[str, str, str]) -> str:
    """A log of (run, outcome, fish_top), one hour each."""
    start = datetime(2026, 3, 14, 6)
    hours = [(start + timedelta(hours=n)).isoformat() for n in range(len(cells) + 1)]
    rows = [
        f"{run},{hours[n]},{hours[n + 1]},{outcome},{top}"
        for n, (run, outcome, top) in enumerate(cells)
    ]
    return "\n".join(["run,start,end,outcome,fish_top", *rows])


def test_metric_depths() -> None:
    (run,) = parse_log(log(("1", "top_damaged", "3400.3")), EUR)
    assert run.fish_top == 3400.3
    (fault,) = faults_of(log(("1", "top_damaged", "3400.31")), EUR)
    assert "the top before, 3400, within 0.3" in fault.allowed
    (fault,) = faults_of(log(("1", "part", "3500")), EUR)
    assert "less than the bottom of the fish, 3500" in fault.allowed
    found = faults_of("run,start,end,outcome,fish_top,cost\n1,,,,x,x", EUR)
    assert [fault.allowed.split(",")[0] for fault in found[-2:]] == [
        *("a depth [m]", "money spent [EUR]")
    ]


def test_part_needs_a_depth_where_the_scenario_has_no_length() -> None:
    (fault,) = faults_of(log(("1", "part", "")), EUR)
    assert (fault.line, fault.path, fault.given) == (2, ("fish_top",), "part and no depth")
    assert "part_length of the run is 0" in fault.allowed
    assert "part_length above 0" in fault.suggestion
    lengths = (
        "part_length = { low = 0, high = 9 }",
        "part_length = { values = [0], weights = [1] }",
    )
    long, none = (changed(('"overshot"', f'"overshot"\n{new}'), text=METRIC) for new in lengths)
    assert parse_log(log(("1", "part", "")), long)[0].fish_top is None
    assert faults_of(log(("1", "part", "")), none)[0].path == ("fish_top",)
    assert parse_log(log(("1", "part", "3410")), EUR)[0].fish_top == 3410


def test_outcome_that_the_scenario_holds_impossible() -> None:
    (fault,) = faults_of(log(("1", "hole_lost", "")), EUR)
    assert (fault.line, fault.path) == (2, ("outcome",))
    assert "hole_lost, which the scenario says cannot happen in run 1 to any kind" in fault.given
    assert fault.allowed == "recovered, part, nothing, top_damaged"
    assert fault.suggestion == (
        "correct the outcome or the odds: "
        "run.1.odds.workable.hole_lost or run.1.odds.stubborn.hole_lost above 0"
    )
    (fault,) = faults_of(log(("3", "part", "3410")), EUR)  # odds without kinds
    assert fault.suggestion.endswith("the odds: run.3.odds.part above 0")


def test_rows_that_are_possible_each_but_not_together() -> None:
    # `nothing` leaves only the stubborn fish, which run 2 never recovers
    (fault,) = faults_of(log(("1", "nothing", ""), ("2", "recovered", "")), EUR)
    assert (fault.line, fault.path) == (3, ("outcome",))
    assert "in run 2 to the only kind of fish that can remain" in fault.given
    assert fault.allowed == "nothing"
    assert "odds: run.2.odds.stubborn.recovered above 0" in fault.suggestion
    assert len(parse_log(log(("1", "part", "3410"), ("2", "recovered", "")), EUR)) == 2


@pytest.mark.parametrize(("prior", "outcome"), [("0", "recovered"), ("1", "nothing")])
def test_outcome_of_a_kind_without_a_prior_chance(prior: str, outcome: str) -> None:
    sure = changed(("workable = 0.5", f"workable = {prior}"), text=METRIC)
    (fault,) = faults_of(log(("1", outcome, "")), sure)
    assert "the only kind of fish that can remain" in fault.given
    unsure = changed(("workable = 0.5", "workable = { mean = 0.5, sd = 0.1 }"), text=METRIC)
    assert parse_log(log(("1", outcome, "")), unsure)[0].outcome == outcome


def test_damaged_top_moves_odds_to_nothing() -> None:
    # run 2 always recovers a workable fish, but not always on a damaged top
    sure = ("workable = 0.5", "workable = 1")
    damaged, nothing = ("1", "top_damaged", ""), ("2", "nothing", "")
    assert len(parse_log(log(damaged, nothing), changed(sure, text=METRIC))) == 2
    (fault,) = faults_of(log(nothing), changed(sure, text=METRIC))
    assert fault.allowed == "recovered"
    normal = ("factor = 0.5", "factor = { mean = 0.5, sd = 0.1 }")
    assert len(parse_log(log(damaged, nothing), changed(sure, normal, text=METRIC))) == 2
    whole = ("factor = 0.5", "factor = 1")
    (fault,) = faults_of(log(damaged, nothing), changed(sure, whole, text=METRIC))
    assert (fault.line, fault.path) == (3, ("outcome",))


def test_damaged_top_that_leaves_no_recovery_until_it_is_dressed() -> None:
    none = changed(("factor = 0.5", "factor = 0"), text=METRIC)
    damaged, recovered = ("1", "top_damaged", ""), ("2", "recovered", "")
    (fault,) = faults_of(log(damaged, recovered), none)
    assert (fault.line, fault.path, fault.allowed) == (3, ("outcome",), "nothing")
    assert fault.suggestion.endswith(
        "fishing.damaged_top_factor or run.2.odds.stubborn.recovered above 0"
    )
    (fault,) = faults_of(log(damaged, ("2", "nothing", ""), recovered), none)
    assert fault.line == 4  # a run that dresses nothing leaves the damage
    assert len(parse_log(log(damaged, ("3", "recovered", "")), none)) == 2
    assert len(parse_log(log(damaged, ("3", "nothing", ""), recovered), none)) == 3


def test_log_for_a_program_without_runs() -> None:
    start, end = METRIC.index("[[run]]"), METRIC.index("[[fallback]]")
    empty = parse(METRIC[:start] + METRIC[end:])
    assert parse_log(HEADER, empty) == ()
    (fault,) = faults_of(table(first(run="")), empty)
    assert "not logged yet: none is left" in fault.allowed
    (fault,) = faults_of(table(FIRST), empty)
    assert "one of the 0 runs" in fault.allowed


# Marks, warnings, and kinds of fish from several doubts. The job starts with the string whole:
# 1 jars it, 2 backs off, 3 washes over, 4 catches.
STRING = parse(STUCK)
NO_PART = "odds = { prepared = 0.9, nothing = 0.1 }"
SURE_JAR = (
    "workable = { recovered = 0.6, nothing = 0.39, hole_lost = 0.01 }\n"
    "stubborn = { recovered = 0.02, nothing = 0.97, hole_lost = 0.01 }"
)
SURE_CATCH = (
    "workable = { recovered = 0.5, nothing = 0.4, top_damaged = 0.1 }\n"
    "stubborn = { recovered = 0.05, nothing = 0.85, top_damaged = 0.1 }"
)
SURE = "workable = { recovered = 1 }\nstubborn = { nothing = 1 }"


def marked(*rows: tuple[str, str, str]) -> str:
    """A log of (run, outcome, marks), one hour each."""
    start = datetime(2026, 3, 14, 6)
    hours = [(start + timedelta(hours=n)).isoformat() for n in range(len(rows) + 1)]
    lines = [
        f"{run},{hours[n]},{hours[n + 1]},{outcome},{marks}"
        for n, (run, outcome, marks) in enumerate(rows)
    ]
    return "\n".join(["run,start,end,outcome,marks", *lines])


def warnings_of(*rows: tuple[str, str, str], job: Scenario = STRING) -> list[str]:
    """The warning of each row, without what all have in common."""
    found = parse_log(marked(*rows), job, file="runs.csv")
    for number, each in enumerate(found, start=2):
        assert not each.warning or each.warning.startswith(f"runs.csv row {number}: run ")
    return [each.warning.partition(" was made although ")[2].partition(";")[0] for each in found]


def test_marks_seen_are_read_with_their_signs() -> None:
    rows = parse_log(
        marked(
            *(("1", "nothing", "-circulates"), ("2", "prepared", "+washed -attached +damaged_top")),
            *(("3", "nothing", ""), ("4", "nothing", "'+attached")),
        ),
        STRING,
    )
    assert [row.marks for row in rows] == [
        (("circulates", False),),
        (("washed", True), ("attached", False), ("damaged_top", True)),
        (),
        (("attached", True),),  # a spreadsheet marks as text what begins with a sign
    ]


@pytest.mark.parametrize(
    ("marks", "given", "allowed", "suggestion"),
    [
        ("washed", "'washed'", "+ before a mark that holds, - before one", "+washed -attached"),
        ("+washd", "'+washd'", "attached, circulates, washed, damaged_top", "did you mean washed?"),
        ("+made_1", "'+made_1'", "marks of the scenario: attached", ""),
        ("+", "'+'", "marks of the scenario", ""),
        ("+washed -washed", "'washed' with + and with -", "each mark with one sign", ""),
    ],
)
def test_fault_of_a_mark(marks: str, given: str, allowed: str, suggestion: str) -> None:
    (fault,) = faults_of(marked(("1", "nothing", marks)), STRING)
    assert (fault.line, fault.path) == (2, ("marks",))
    assert given in fault.given
    assert allowed in fault.allowed
    assert suggestion in fault.suggestion


def test_a_run_as_the_scenario_has_it_brings_no_warning() -> None:
    rows = [
        ("1", "nothing", ""),
        ("2", "prepared", ""),
        ("3", "prepared", ""),
        ("4", "nothing", ""),
    ]
    assert warnings_of(*rows) == ["", "", "", ""]
    assert not any(row.warning for row in parse_log(table(FIRST, SECOND), A))


def test_a_run_made_although_its_needs_did_not_hold_is_a_fact_with_a_warning() -> None:
    (one,) = parse_log(marked(("4", "nothing", "")), STRING, file="runs.csv")
    assert one.warning == (
        "runs.csv row 2: run 4 was made although made_2, which it needs, did not hold and "
        "attached, which bars it, held; if that was otherwise, write it under marks of the row "
        "before, or correct the file"
    )


def test_marks_change_with_prepared_and_part_alone() -> None:
    # a back-off that brought nothing leaves the string whole; run 2 counts as made all the same
    assert warnings_of(("2", "nothing", ""), ("4", "nothing", ""))[1] == (
        "attached, which bars it, held"
    )
    assert warnings_of(("2", "prepared", ""), ("1", "nothing", ""))[1] == (
        "attached, which it needs, did not hold"
    )
    assert warnings_of(("2", "prepared", ""), ("4", "nothing", ""))[1] == ""
    odds = "odds = { part = 0.9, nothing = 0.1 }\npart_length = 30"
    part = changed((NO_PART, odds), text=STUCK)
    assert warnings_of(("2", "part", ""), ("4", "nothing", ""), job=part)[1] == ""


def test_marks_seen_overrule_what_the_outcome_gives_and_takes() -> None:
    seen = ("2", "nothing", "-attached")
    assert warnings_of(seen, ("4", "nothing", ""))[1] == ""
    still = ("2", "prepared", "+attached")
    assert warnings_of(still, ("4", "nothing", ""))[1] == "attached, which bars it, held"


def test_damage_is_a_mark_from_row_to_row() -> None:
    barred = (
        ("hours = 30", 'hours = 30\nbars = ["damaged_top"]'),
        ('needs = ["made_2"]\nbars = ["attached"]\n', ""),
    )
    needs = changed(*barred, text=STUCK)
    damaged = ("2", "prepared", "+damaged_top")
    assert warnings_of(damaged, ("3", "nothing", ""), job=needs)[1] == (
        "damaged_top, which bars it, held"
    )
    dressed = changed(("after = [2]", "dresses_top = true"), *barred, text=STUCK)
    rows = [damaged, ("4", "nothing", ""), ("3", "nothing", "")]
    assert warnings_of(*rows, job=dressed) == ["", "", ""]
    rows[1] = ("4", "top_damaged", "")  # dressed at its start, and damaged by its own outcome
    assert warnings_of(*rows, job=dressed)[2] == "damaged_top, which bars it, held"


def test_a_top_damaged_now_cuts_the_first_run_of_the_log() -> None:
    sure = [("workable = 0.5", "workable = 1"), ("factor = 0.5", "factor = 0")]
    damaged = changed(
        ("bottom = 3500", 'bottom = 3500\nmarks = ["damaged_top"]'), *sure, text=METRIC
    )
    (fault,) = faults_of(log(("2", "recovered", "")), damaged)
    assert fault.allowed == "nothing"
    assert len(parse_log(log(("2", "recovered", "")), changed(*sure, text=METRIC))) == 1


def test_prepared_moves_no_top() -> None:
    text = marked(("2", "prepared", "")).replace("marks", "fish_top")
    assert parse_log(text + "9300", STRING)[0].fish_top == 9300
    (fault,) = faults_of(text + "9350", STRING)
    assert "the top before, 9300, within 1" in fault.allowed


def test_evidence_goes_by_all_kinds_of_fish() -> None:
    """A jar that always frees where jars_free, a catch that always holds where both are in favour:
    of the four kinds, each row rules some out (by hand)."""
    both = changed((SURE_JAR, SURE), (SURE_CATCH, SURE), text=STUCK)
    jarred = ("1", "nothing", "")  # so jars_free is not in favour, whatever the top
    (fault,) = faults_of(marked(jarred, ("4", "recovered", "")), both)
    assert (fault.line, fault.path, fault.allowed) == (3, ("outcome",), "nothing")
    assert "to the kinds of fish that can remain" in fault.given
    assert fault.suggestion.endswith("run.4.odds.stubborn.recovered above 0")
    # where the catch depends on the top alone, the jar has said nothing of it
    depends = ("after = [2]", 'after = [2]\ndepends_on = ["top_good"]')
    top = changed((SURE_JAR, SURE), (SURE_CATCH, SURE), depends, text=STUCK)
    assert len(parse_log(marked(jarred, ("4", "recovered", "")), top)) == 2
    missed, caught = ("4", "nothing", ""), ("4", "recovered", "")
    (fault,) = faults_of(marked(missed, jarred, caught), top)
    assert "to the only kind of fish that can remain" in fault.given


def test_a_doubt_that_is_renewed_is_open_again() -> None:
    depends = ("after = [2]", 'depends_on = ["top_good"]')
    top = changed((SURE_CATCH, SURE), depends, text=STUCK)
    missed, caught = ("4", "nothing", ""), ("4", "recovered", "")
    assert len(faults_of(marked(missed, caught), top)) == 1
    assert len(faults_of(marked(missed, ("2", "nothing", ""), caught), top)) == 1
    assert len(parse_log(marked(missed, ("2", "prepared", ""), caught), top)) == 3
    again = ("{ top_good = 0.8 }", "{ top_good = 0 }")
    never = changed((SURE_CATCH, SURE), depends, again, text=STUCK)
    assert len(faults_of(marked(missed, ("2", "prepared", ""), caught), never)) == 1


# Files.


def test_file_that_cannot_be_read(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    with pytest.raises(ScenarioError, match=r"no file .*runs.csv.*check the name of the run log"):
        read_log(path, A)
    with pytest.raises(ScenarioError, match="the folder"):
        read_log(tmp_path, A)
    path.write_bytes(f"{HEADER}\n1;\xe4".encode("latin-1"))
    with pytest.raises(ScenarioError, match=r"^runs.csv row 2: given the byte 0xe4, which is not"):
        read_log(path, A)
    path.write_bytes(b"," * 2_000_001)
    with pytest.raises(ScenarioError, match="larger; allowed: up to 2000000 bytes"):
        read_log(path, A)


def test_name_of_the_file_stands_in_each_message(tmp_path: Path) -> None:
    path = tmp_path / ("\u00e4" * 40 + ".csv")
    path.write_text(table(first(cost="-1")), encoding="utf-8")
    with pytest.raises(ScenarioError, match=r"^.{60} row 2, cost: given '-1'") as caught:
        read_log(path, A)
    assert str(caught.value).isascii()


# Anything else.
CELL = st.one_of(
    st.sampled_from([*COLUMNS, *"01239", "overshot", "wall_hook", "nothing", "part", "recovered"]),
    st.sampled_from(["hole_lost", "top_damaged", "string_lost", "11300", "11180", "-0", "", " "]),
    st.sampled_from(["2026-03-14T06:00", "2026-03-20T06:00Z", "0001-01-01T00:00+14:00", '"']),
    st.datetimes(timezones=st.sampled_from([None, UTC, timezone(-timedelta(hours=23))])).map(
        datetime.isoformat
    ),
    st.text(max_size=8),
)
TABLES = st.lists(st.lists(CELL, min_size=9, max_size=10).map(",".join), max_size=6).map(
    lambda rows: table(*rows)
)
LOOSE = st.lists(
    st.one_of(CELL, st.sampled_from([",", ";", "\n", "\r", "\0", "\ufeff", '"', HEADER])),
    max_size=40,
).map("".join)


@settings(max_examples=300, deadline=None)
@given(text=st.one_of(st.text(max_size=60), LOOSE, TABLES))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    found = []
    try:
        runs, message = parse_log(text, A), ""
    except ScenarioError as error:
        runs, message = (), str(error)
        found = error.faults
    assert all(isinstance(run, LoggedRun) and run.start <= run.end for run in runs)
    assert message.isascii()
    assert bool(message) == bool(found)


@settings(max_examples=100, deadline=None)
@given(
    tops=st.lists(st.integers(min_value=0, max_value=668), min_size=1, max_size=4),
    costs=st.lists(st.floats(min_value=0, max_value=1e15), min_size=4, max_size=4),
    remark=st.text(
        st.characters(min_codepoint=33, max_codepoint=0x2000, blacklist_categories=["Cc", "Z"]),
        max_size=300,
    ),
)
def test_any_good_log_comes_back(tops: list[int], costs: list[float], remark: str) -> None:
    depths = sorted({11_181.0 + top for top in tops})  # each part is deeper, above the bottom
    moment = datetime(2026, 3, 14, 6)
    made = [
        LoggedRun(
            *(2 + n, n, moment + timedelta(hours=n), moment + timedelta(hours=n + 1), "part"),
            *(depth, "bent", costs[n], remark),
        )
        for n, depth in enumerate(depths)
    ]
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["run", *PLAIN[2:]])
    for run in made:
        times = (run.start.isoformat(), run.end.isoformat())
        rest = (run.outcome, run.fish_top, run.top_condition, run.cost, run.remark)
        writer.writerow([run.run + 1, *times, *rest])
    assert parse_log(out.getvalue(), A) == tuple(made)
