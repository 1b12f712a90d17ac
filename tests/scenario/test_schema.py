"""The JSON schema of a scenario, by which an editor helps to write one."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from econ.scenario import Scenario
from econ.scenario.distributions import FAMILY

SCHEMA: dict[str, Any] = Scenario.model_json_schema()
# The keywords of JSON Schema 2020-12 that may stand here, and the two annotations of the format.
WORDS = {
    "$defs", "$ref", "additionalProperties", "anyOf", "const", "default", "description", "enum",
    "exclusiveMaximum", "exclusiveMinimum", "format", "items", "maxItems", "maxLength",
    "maxProperties", "maximum", "minItems", "minLength", "minProperties", "minimum", "oneOf",
    "pattern", "patternProperties", "properties", "required", "title", "type", "x-range", "x-unit",
}  # fmt: skip
TYPES = {"array", "boolean", "integer", "null", "number", "object", "string"}
LEAST = {"minimum", "exclusiveMinimum", "const"}


def schemas(schema: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """A schema and every schema inside it."""
    yield schema
    for word in ("$defs", "properties", "patternProperties"):
        for inner in schema.get(word, {}).values():
            yield from schemas(inner)
    for word in ("anyOf", "oneOf"):
        for inner in schema.get(word, []):
            yield from schemas(inner)
    for word in ("items", "additionalProperties"):
        if isinstance(schema.get(word), dict):
            yield from schemas(schema[word])


def tables() -> dict[str, dict[str, Any]]:
    """Every table of the format by name."""
    return {"Scenario": SCHEMA, **SCHEMA["$defs"]}


def properties() -> list[tuple[str, dict[str, Any]]]:
    """Every key of every table."""
    return [
        (f"{table}.{name}", schema)
        for table, holder in tables().items()
        for name, schema in holder.get("properties", {}).items()
    ]


def holds_number(schema: dict[str, Any]) -> bool:
    """Whether a key takes a number, itself or in a list or table of them."""
    return any(inner.get("type") in ("number", "integer") for inner in schemas(schema))


NUMERIC = [(name, schema) for name, schema in properties() if holds_number(schema)]


def test_schema_survives_json_and_uses_only_known_words() -> None:
    assert json.loads(json.dumps(SCHEMA, allow_nan=False)) == SCHEMA
    for schema in schemas(SCHEMA):
        assert set(schema) <= WORDS
        assert schema.get("type", "object") in TYPES


def test_every_reference_leads_to_a_definition() -> None:
    references = {schema["$ref"] for schema in schemas(SCHEMA) if "$ref" in schema}
    assert references == {f"#/$defs/{name}" for name in SCHEMA["$defs"]}


@pytest.mark.parametrize("name", tables())
def test_table_is_closed_described_and_requires_keys_it_has(name: str) -> None:
    table = tables()[name]
    assert table["type"] == "object"
    assert table["additionalProperties"] is False
    assert table["description"]
    assert set(table.get("required", [])) <= set(table["properties"])
    for key in table.get("required", []):
        assert "default" not in table["properties"][key]


def test_keys_are_named_as_in_the_file() -> None:
    assert "schema" in SCHEMA["properties"]
    assert set(SCHEMA["$defs"]["TripSpeed"]["properties"]) == {"in", "out"}
    required = {"schema", "units", "currency", "job", "well", "rates", "fish", "fallback"}
    assert set(SCHEMA["required"]) == required


def test_every_key_has_a_description() -> None:
    for name, schema in properties():
        words = schema["description"]
        assert len(words) >= 4, name
        assert words.isascii(), name
        assert words[0].isupper() or words.startswith("field:"), name


def test_every_numeric_key_has_a_unit_and_a_range() -> None:
    for name, schema in NUMERIC:
        inside = list(schemas(schema))
        if name == "Scenario.schema":
            assert schema["const"] == 1
            continue
        assert any(inner.get("x-unit") for inner in inside), name
        assert any(inner.get("x-range") or LEAST & set(inner) for inner in inside), name


def test_numeric_keys_are_those_of_the_format() -> None:
    names = {name for name, _ in NUMERIC}
    assert len(names) > 90
    assert {"Well.depth", "Fish.top", "Sidetrack.competent", "Fishing.day_rates"} <= names
    assert {"DrawSettings.seed", "Limits.minimum_runs", "Beta.weight"} <= names


def test_every_distribution_may_stand_for_an_amount() -> None:
    options = SCHEMA["properties"]["rates"]["additionalProperties"]["oneOf"]
    names = [option["$ref"].rsplit("/", 1)[1] for option in options if "$ref" in option]
    assert names == [family.__name__ for family in FAMILY]
    assert {"type": "number"} in options


def test_units_name_both_systems() -> None:
    depth = SCHEMA["$defs"]["Well"]["properties"]["depth"]
    assert depth["x-unit"] == "ft (metric file: m)"
    assert depth["x-range"] == "0 or more"
