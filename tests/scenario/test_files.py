"""Reading a scenario: what a file may be, what replaces its values, and what it never does."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from econ.scenario import Fault, Scenario, ScenarioError, load, parse
from econ.scenario.distributions import Pert, Uniform
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.load import LARGEST_FILE, read_text
from econ.scenario.scenario import dotted

DATA = Path(__file__).parents[1] / "data" / "scenario_a_check.toml"
TEXT = DATA.read_text(encoding="utf-8")


def only_fault(path: str | os.PathLike[str], overrides: tuple[str, ...] = ()) -> Fault:
    """The one fault of a file."""
    with pytest.raises(ScenarioError) as caught:
        load(path, overrides)
    assert str(caught.value).isascii()
    assert str(caught.value).isprintable()
    (fault,) = caught.value.faults
    return fault


def override_fault(*overrides: str) -> Fault:
    """The one fault of overrides of the sound file."""
    return only_fault(DATA, overrides)


def written(folder: Path, data: bytes) -> Path:
    """A scenario file with these bytes."""
    path = folder / "scenario.toml"
    path.write_bytes(data)
    return path


def first_run_charge(scenario: Scenario) -> object:
    return scenario.run[0].charge


# What a file may be


def test_file_and_text_give_the_same_scenario() -> None:
    assert load(DATA) == load(str(DATA)) == parse(TEXT)


def test_empty_file_names_every_required_section(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        load(written(tmp_path, b""))
    # the required keys of the top level, in the order of the format
    required = ["schema", "units", "currency", "job", "well", "rates", "fish", "fallback"]
    assert [dotted(fault.path) for fault in caught.value.faults] == required
    assert all(fault.given == "nothing" and fault.line is None for fault in caught.value.faults)


def test_byte_order_mark_is_accepted(tmp_path: Path) -> None:
    assert load(written(tmp_path, b"\xef\xbb\xbf" + TEXT.encode())) == parse(TEXT)


def test_windows_line_ends_are_accepted_and_counted(tmp_path: Path) -> None:
    windows = TEXT.replace("\n", "\r\n").encode()
    assert load(written(tmp_path, windows)) == parse(TEXT)
    fault = only_fault(written(tmp_path, windows.replace(b"rig = 53000", b"rig = -1")))
    assert (fault.line, dotted(fault.path)) == (22, "rates.rig")
    fault = only_fault(written(tmp_path, windows.replace(b"rig = 53000", b"rig =")))
    assert fault.line == 22


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_latin_1_is_refused_with_the_line_and_byte(tmp_path: Path, mark: bytes) -> None:
    text = TEXT.replace("Upper part", "Oberes St\u00fcck")  # line 35; u umlaut is 0xfc in Latin-1
    fault = only_fault(written(tmp_path, mark + text.encode("latin-1")))
    assert fault.line == 35
    assert "0xfc" in fault.given
    assert "UTF-8" in fault.allowed
    assert fault.suggestion == "save it as UTF-8"


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-be", "utf-32"])
def test_wider_encodings_are_refused(tmp_path: Path, encoding: str) -> None:
    fault = only_fault(written(tmp_path, TEXT.encode(encoding)))
    assert fault.line == 1
    assert "UTF-8" in fault.allowed or fault.allowed == "TOML"


@pytest.mark.parametrize(
    "data", [bytes(range(256)), b"\x89PNG\r\n\x1a\n\x00", b"PK\x03\x04\x14\x00"]
)
def test_binary_file_is_refused(tmp_path: Path, data: bytes) -> None:
    fault = only_fault(written(tmp_path, data))
    assert fault.line in (1, 2)
    assert "UTF-8" in fault.allowed or fault.allowed == "TOML"


def test_missing_file(tmp_path: Path) -> None:
    fault = only_fault(tmp_path / "nowhere.toml")
    assert "nowhere.toml" in fault.given
    assert fault.allowed == "a file that exists"
    assert "econ new" in fault.suggestion


def test_folder(tmp_path: Path) -> None:
    fault = only_fault(tmp_path)
    assert fault.given.startswith("the folder")
    assert fault.allowed == "a file"


@pytest.mark.parametrize("name", ["a\0b.toml", "x" * 5000, "scenario.toml/inside"])
def test_names_that_cannot_be_read(tmp_path: Path, name: str) -> None:
    written(tmp_path, b"")
    fault = only_fault(os.path.join(tmp_path, name))
    assert fault.allowed == "a file that can be read"
    assert fault.suggestion


def test_name_with_control_characters_is_printed_safely(tmp_path: Path) -> None:
    assert "\\x1b[31m" in only_fault(tmp_path / "\x1b[31m.toml").given


def test_huge_file_is_refused_and_the_largest_is_read(tmp_path: Path) -> None:
    comment = TEXT.encode() + b"#"
    largest = written(tmp_path, comment + b"-" * (LARGEST_FILE - len(comment)))
    assert len(read_text(largest)) == LARGEST_FILE
    with largest.open("ab") as file:
        file.write(b"-")
    fault = only_fault(largest)
    assert "larger" in fault.given
    assert fault.allowed == f"up to {LARGEST_FILE} bytes"


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="no such device here")
def test_device_without_an_end_is_refused() -> None:
    assert "larger" in only_fault("/dev/zero").given


# Overrides


def test_number_is_replaced() -> None:
    assert parse(TEXT, ["rates.rig=30000"]).rates["rig"] == 30000
    assert parse(TEXT, [" rates . rig = 30_000.5 "]).rates["rig"] == 30000.5


def test_list_items_are_counted_from_1() -> None:
    scenario = parse(TEXT, ["run.1.charge=1", "run.5.charge=5", "run.2.trips.2.work=7"])
    assert [run.charge for run in scenario.run] == [1, 11800, 5600, 24500, 5]
    trips = scenario.run[1].trips
    assert trips is not None
    assert [trip.work for trip in trips] == [3.5, 7]


def test_distribution_is_replaced_as_a_whole_and_in_part() -> None:
    whole = "rates.rig={ low = 1, likely = 2, high = 4 }"
    assert parse(TEXT, [whole]).rates["rig"] == Pert(low=1, likely=2, high=4)
    assert parse(TEXT, [whole, "rates.rig.high=9"]).rates["rig"] == Pert(low=1, likely=2, high=9)


def test_yes_no_text_date_and_word_are_replaced() -> None:
    scenario = parse(
        TEXT,
        [
            "run.1.dresses_top=true",
            'job.event="stuck = lost"',
            "price_date=2026-04-01",
            "fish.top_condition=buried",
        ],
    )
    assert scenario.run[0].dresses_top is True
    assert scenario.job.event == "stuck = lost"
    assert str(scenario.price_date) == "2026-04-01"
    assert scenario.fish.top_condition == "buried"


def test_new_optional_key_new_section_and_new_name_are_added() -> None:
    scenario = parse(
        TEXT,
        ["fishing.damaged_top_factor=0.5", "limits.authority=1e6", "rates.boats={low=1,high=2}"],
    )
    assert scenario.fishing.damaged_top_factor == 0.5
    assert scenario.limits.authority == 1e6
    assert scenario.rates == {"rig": 53000, "boats": Uniform(low=1, high=2)}


def test_whole_list_is_replaced() -> None:
    assert parse(TEXT, ["run=[]"]).run == []


def test_later_override_wins() -> None:
    assert first_run_charge(parse(TEXT, ["run.1.charge=1", "run.1.charge=2"])) == 2


def test_nothing_that_was_given_is_changed() -> None:
    overrides = ["rates.rig=30000", "run.1.charge=1"]
    before = DATA.read_bytes()
    changed = load(DATA, overrides)
    assert DATA.read_bytes() == before
    assert overrides == ["rates.rig=30000", "run.1.charge=1"]
    assert changed != load(DATA) == parse(TEXT)


def test_defaults_are_not_shared_between_scenarios() -> None:
    changed = parse(TEXT, ["limits.minimum_runs=2", "fallback.1.stick_again={}"])
    plain = parse(TEXT)
    assert plain.limits.minimum_runs is None
    assert isinstance(plain.fallback[0], Sidetrack)
    assert isinstance(changed.fallback[0], Sidetrack)
    assert plain.fallback[0].stick_again.chance == 0.05
    assert changed.fallback[0].stick_again.chance == 0


@pytest.mark.parametrize(
    "override", ["rates.rig", "", "=", "=5", "rates..rig=5", ".=1", "rates.=1"]
)
def test_override_that_is_no_pair(override: str) -> None:
    fault = override_fault(override)
    assert fault.given == repr(override)
    assert fault.allowed == "key=value"
    assert "rates.rig=30000" in fault.suggestion


@pytest.mark.parametrize(
    ("override", "key", "suggestion"),
    [
        ("rates.rig.lw=5", "--set", ""),
        ("well.inclinaton=5", "well.inclinaton", "did you mean inclination?"),
        ("drws.n=64", "drws", "did you mean draws?"),
        ("run.1.chrge=5", "run.1.chrge", "did you mean charge?"),
    ],
)
def test_override_of_an_unknown_key(override: str, key: str, suggestion: str) -> None:
    fault = override_fault(override)
    assert dotted(fault.path) == key
    assert suggestion in fault.suggestion
    assert fault.line is None  # it stands in no line of the file


@pytest.mark.parametrize("item", ["0", "6", "-1", "x", "1.5", "\u0665", "9" * 5000, "\u00b2"])
def test_override_of_an_item_out_of_range(item: str) -> None:
    fault = override_fault(f"run.{item}.charge=5")
    assert fault.allowed == "an item from 1 to 5" or (item == "1.5" and "unknown" in fault.given)
    if item != "1.5":
        assert "counted from 1 in run" in fault.suggestion


def test_override_of_a_value_as_if_it_were_a_table() -> None:
    fault = override_fault("rates.rig.low=5")
    assert "rates.rig.low=5" in fault.given
    assert fault.allowed == "a key; rates.rig is 53000, not a table"


@pytest.mark.parametrize(
    ("override", "key", "given", "allowed"),
    [
        ("rates.rig=-5", "rates.rig", "-5", "0 or more"),
        ("rates.rig=cheap", "rates.rig", "'cheap'", "a number"),
        ("rates.rig=", "rates.rig", "''", "a number"),
        ("rates.rig={low=2,high=1}", "rates.rig", "low = 2, high = 1", "low <= high"),
        ("rates.rig={low=2", "rates.rig", "'{low=2'", "a number"),
        ("rates.rig=" + "[" * 5000, "rates.rig", "'[[[", "a number"),
        ("rates.rig=" + "9" * 5000, "rates.rig", "'999", "currency/d"),
        ("run.2.kind=spar", "run.2.kind", "'spar'", "spear"),
        ("fish.bottom=12000", "fish.bottom", "12000", "at most"),
        ("\x1b[31m=1", "\x1b[31m", "unknown", "keys schema"),
    ],
)
def test_override_of_a_faulty_value_names_no_line_of_the_file(
    override: str, key: str, given: str, allowed: str
) -> None:
    with pytest.raises(ScenarioError) as caught:
        parse(TEXT, [override])
    fault = next(fault for fault in caught.value.faults if dotted(fault.path) == key)
    assert given in fault.given
    assert allowed in fault.allowed
    assert fault.line is None
    assert str(caught.value).replace("\n", "").isprintable()


def test_every_bad_override_is_reported_in_one_go() -> None:
    with pytest.raises(ScenarioError) as caught:
        parse(TEXT, ["rig", "run.9.wait=1", "rates.rig.low=1", "wait"])
    assert len(caught.value.faults) == 4


def test_faults_of_the_file_keep_their_lines_beside_an_override() -> None:
    with pytest.raises(ScenarioError) as caught:
        parse(TEXT.replace("workable = 0.7", "workable = 7"), ["rates.rig=-1"])
    places = [(fault.line, dotted(fault.path)) for fault in caught.value.faults]
    assert places == [(None, "rates.rig"), (27, "fishing.workable")]
