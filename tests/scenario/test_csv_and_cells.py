"""The one reader of CSV tables, and text that no spreadsheet takes for a formula.

Origins: CSV as RFC 4180 has it; what begins a formula as OWASP, CSV Injection, lists it (= + - @,
tab, carriage return, and their full-width forms).
"""

from __future__ import annotations

import pytest

from econ.scenario.csv_rows import UnsplitRowError, csv_rows
from econ.scenario.spreadsheet_text import harmless


def test_rows_with_the_line_where_they_start() -> None:
    text = '\ufeffa,b\n\n"x\ny", 1 \n,,\nlast,2\n'
    assert list(csv_rows(text)) == [(1, ["a", "b"]), (3, ["x\ny", "1"]), (6, ["last", "2"])]
    assert (5, ["", "", ""]) in list(csv_rows(text, keep_empty=True))


def test_semicolons_part_the_cells_where_the_first_row_has_more_of_them() -> None:
    assert list(csv_rows("\n;;\na;b,c;d\n1;2,5;3\n")) == [
        (3, ["a", "b,c", "d"]),
        (4, ["1", "2,5", "3"]),
    ]


def test_quotes_that_are_not_in_pairs_name_their_row() -> None:
    with pytest.raises(UnsplitRowError) as caught:
        list(csv_rows('a,b\n1,2\n"3,4\n'))
    assert caught.value.line == 3
    assert "quotes in pairs" in caught.value.allowed


@pytest.mark.parametrize("sign", [*"=+-@", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\ufe62"])
@pytest.mark.parametrize("before", ["", " ", "   ", "\u00a0", "\u3000", "\ufeff", "\u200b", "\t"])
def test_what_may_begin_a_formula_is_marked_as_text(before: str, sign: str) -> None:
    text = f"{before}{sign}cmd|'/c calc'!A1"
    assert harmless(text) == f"'{text}"


@pytest.mark.parametrize("text", ["\tplain", "\rplain", "\nplain", "=", " -", "+5", "-5-2"])
def test_tabs_line_ends_and_bare_signs_are_marked(text: str) -> None:
    assert harmless(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", " ", "Overshot", "7 - 3", "a=b", "-5", "-1.5e-3", "'quoted"])
def test_other_text_stays_as_it_is(text: str) -> None:
    assert harmless(text) == text
