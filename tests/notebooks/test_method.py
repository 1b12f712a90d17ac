"""The page of the method holds the table of checks as it is measured now."""

from __future__ import annotations

import re

import method_checks
import pytest
from method_checks import PAGE, Check, measured, rounded_up, share, table, written

TEXT = PAGE.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def checks() -> list[Check]:
    return measured()


def test_the_page_has_the_table_as_it_is_measured(checks: list[Check]) -> None:
    assert written(TEXT, checks) == TEXT, "python tests/notebooks/method_checks.py"


def test_no_check_is_off_by_more_than_chance_or_rounding(checks: list[Check]) -> None:
    for check in checks:
        assert check.cases > 0
        assert check.worst < (4.0 if check.unit == "standard errors" else 1e-5), check.what


def test_every_formula_of_the_page_names_symbols_with_units() -> None:
    rows = re.findall(r"^\| \$(.+)\$ \| ([^|]+) \| [^|]+ \|$", TEXT, re.M)
    assert len(rows) >= 7
    assert {unit for _, units in rows for unit in re.split(r", ?", units)} <= {"-", "1", "cur"}


def test_a_deviation_is_found() -> None:
    # the measure is only as good as its reader
    assert share([(1.0, 1.0), (1.1, 1.0)]) == pytest.approx(0.1)
    assert rounded_up(0.11) == "0.2"
    wrong = Check("a", "b", "c", 1, 0.11, "share")
    assert "| 0.2 |" in table([wrong])
    assert written(TEXT, [wrong]) != TEXT
    assert method_checks.apart([(3.0, 1.0)]) == 2.0
