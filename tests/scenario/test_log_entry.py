"""A row more or less in a run log: every other byte stays, and any text comes back as given.

Expected texts are written out by hand.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from econ.scenario import load
from econ.scenario.csv_rows import UnsplitRowError, csv_rows, whole_rows
from econ.scenario.log_entry import Taken, with_row, with_undone, without_last_row
from econ.scenario.run_log import COLUMNS, parse_log
from econ.scenario.spreadsheet_text import harmless, meant

A = load("scenarios/point/a_land_twist_off.toml")
FIRST = {"run": "1", "start": "2026-03-14T06:00", "end": "2026-03-15T10:00", "outcome": "nothing"}
SECOND = {"run": "2", "start": "2026-03-15T10:00", "end": "2026-03-16T10:00", "outcome": "nothing"}


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("delimiter", [",", ";"])
@pytest.mark.parametrize("closed", [True, False])
def test_delimiter_mark_and_line_ends_are_those_of_the_log(
    mark: str, end: str, delimiter: str, closed: bool
) -> None:
    rows = ["run,start,end,outcome,remark", '1,2026-03-14T06:00,2026-03-15T10:00,nothing,"x"']
    before = mark + end.join(rows).replace(",", delimiter) + (end if closed else "")
    added = with_row(before, SECOND | {"remark": "a, b; c"})
    row = '2,2026-03-15T10:00,2026-03-16T10:00,nothing,"a, b; c"'.replace(",", delimiter)
    row = row.replace(f"a{delimiter} b", "a, b")
    assert added.text == before + ("" if closed else end) + row + end
    assert (added.row, added.columns, added.rows_before) == (row, (), 1)
    assert [each.remark for each in parse_log(added.text, A)] == ["x", "a, b; c"]


def test_a_log_that_is_not_there_gets_a_header_with_every_column() -> None:
    for text in ("", "\ufeff", "\n\n"):
        added = with_row(text, FIRST)
        assert added.text.startswith(text)
        assert added.text[len(text) :].startswith(",".join(COLUMNS) + "\n1,,2026-")
        assert len(parse_log(added.text, A)) == 1


def test_a_column_is_added_only_where_the_row_needs_it() -> None:
    before = "run,start,end,outcome\r\n1,2026-03-14T06:00,2026-03-15T10:00,nothing\r\n\r\n"
    same = with_row(before, SECOND)
    assert same.text == before + "2,2026-03-15T10:00,2026-03-16T10:00,nothing\r\n"
    more = with_row(before, SECOND | {"marks": "+damaged_top", "cost": "5"})
    assert more.columns == ("cost", "marks")
    assert more.text == (
        "run,start,end,outcome,cost,marks\r\n1,2026-03-14T06:00,2026-03-15T10:00,nothing,,\r\n\r\n"
        "2,2026-03-15T10:00,2026-03-16T10:00,nothing,5,'+damaged_top\r\n"
    )
    assert parse_log(more.text, A)[1].marks == (("damaged_top", True),)


def test_rows_are_padded_as_far_as_they_are_short_and_in_several_lines() -> None:
    # empty cells behind the header and behind a row stay; a cell may hold a line end
    before = 'start,end,outcome,run,remark,,\n2026-03-14T06:00,2026-03-15T10:00,part,1,"a\nb",,\n'
    added = with_row(before, SECOND | {"cost": "5"})
    assert added.text.startswith(
        "start,end,outcome,run,remark,cost,,\n"
        '2026-03-14T06:00,2026-03-15T10:00,part,1,"a\nb",,\n2026-03-15T10:00,'
    )
    short = "start,end,outcome,run,remark,fish_top\n2026-03-14T06:00,2026-03-15T10:00,nothing,1"
    assert with_row(short, SECOND | {"cost": "5"}).text == (
        "start,end,outcome,run,remark,fish_top,cost\n"
        "2026-03-14T06:00,2026-03-15T10:00,nothing,1,,,\n"
        "2026-03-15T10:00,2026-03-16T10:00,nothing,2,,,5\n"
    )


TEXT = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), max_size=40)


@given(remark=TEXT, old=TEXT, delimiter=st.sampled_from(",;"), end=st.sampled_from(["\n", "\r\n"]))
def test_any_remark_comes_back_and_every_byte_before_stays(
    remark: str, old: str, delimiter: str, end: str
) -> None:
    head = delimiter.join(["run", "start", "end", "outcome", "remark"])
    quoted = '"' + old.replace('"', '""') + '"'
    first = delimiter.join([*FIRST.values(), quoted])
    before = f"{head}{end}{first}{end}"
    added = with_row(before, SECOND | {"remark": remark})
    assert added.text.startswith(before)
    rows = parse_log(added.text, A)
    assert rows[1].remark == " ".join(meant(harmless(remark).strip()).split())
    cells = dict(csv_rows(added.text))
    assert not any(cell[:1] in "=+@" for cell in cells[max(cells)] if cell)
    taken = without_last_row(added.text)
    assert taken is not None
    assert taken.text == before
    assert taken.row == added.row + end


@pytest.mark.parametrize(
    "text", ["=1+1", "+dressed", "-attached", "@sum", " =x", "-5.5", "'t Zand"]
)
def test_what_a_spreadsheet_could_run_is_marked_and_comes_back(text: str) -> None:
    assert meant(harmless(text)) == text


def test_the_last_row_is_taken_and_nothing_else() -> None:
    before = 'run,outcome\r\n1,part\r\n\r\n2,"a\r\nb"\r\n,\r\n\r\n'
    taken = without_last_row(before)
    assert taken is not None
    assert taken == Taken(
        "run,outcome\r\n1,part\r\n\r\n,\r\n\r\n", "run,outcome\r\n", '2,"a\r\nb"\r\n'
    )
    for empty in ("", "run,outcome\n", "run,outcome\n\n,\n"):
        assert without_last_row(empty) is None


def test_rows_taken_back_stand_under_their_header() -> None:
    one = Taken("", "\ufeffrun,start,outcome\n", "1,2026,part\n")
    text = with_undone("", one)
    assert text == "\ufeffrun,start,outcome\n1,2026,part\n"
    text = with_undone(text, one)
    assert text == "\ufeffrun,start,outcome\n1,2026,part\n1,2026,part\n"
    text = with_undone(text, Taken("", "run,start,outcome,cost\n", "2,2026,part,5"))
    assert text.endswith("1,2026,part\nrun,start,outcome,cost\n2,2026,part,5\n")


@given(st.text(st.sampled_from('a,;"\r\n'), max_size=30))
def test_rows_as_they_stand_are_the_text(text: str) -> None:
    try:
        rows = whole_rows(text)
    except UnsplitRowError:
        return
    assert "".join(row for row, _ in rows) == text
    assert [cells for _, cells in rows if any(cells)] == [cells for _, cells in csv_rows(text)]
