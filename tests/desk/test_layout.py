"""The form has every key of the schema, once."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from econ.desk.editing import edited
from econ.desk.layout import FORMS, layout
from econ.scenario import Scenario
from econ.scenario.distributions import FAMILY
from econ.scenario.load import parse

ROOT = Path(__file__).parents[2]


def schema_keys(node: Any, definitions: Any, before: str) -> Iterator[str]:
    """Key paths of the JSON schema that `econ check --schema` prints: not by the code under
    test."""
    if "$ref" in node:
        name = node["$ref"].rsplit("/", maxsplit=1)[-1]
        if name in {family.__name__ for family in FAMILY}:
            return
        yield from schema_keys(definitions[name], definitions, before)
    for option in [*node.get("anyOf", []), *node.get("oneOf", [])]:
        yield from schema_keys(option, definitions, before)
    for name, inner in node.get("properties", {}).items():
        path = f"{before}.{name}" if before else name
        yield path
        yield from schema_keys(inner, definitions, path)
    if isinstance(node.get("items"), dict):
        yield from schema_keys(node["items"], definitions, before + "[]")
    if isinstance(node.get("additionalProperties"), dict) or "patternProperties" in node:
        yield before + ".*"


def test_every_key_of_the_schema_has_one_field() -> None:
    schema = Scenario.model_json_schema()
    found = set(schema_keys(schema, schema["$defs"], ""))
    tables = {
        path for path in found if any(each.startswith((f"{path}.", f"{path}[].")) for each in found)
    }
    fields = [
        field["key"]
        for section in layout()["sections"]
        for field in [*section["fields"], *section["more"]]
    ]
    assert len(fields) == len(set(fields))
    assert set(fields) == found - tables
    assert len(fields) > 190


def test_every_field_has_a_label_a_meaning_and_a_unit_where_it_has_a_quantity() -> None:
    for section in layout()["sections"]:
        assert section["title"]
        for field in [*section["fields"], *section["more"]]:
            assert field["label"]
            assert field["meaning"]
            if field["kind"] in ("amount", "number"):
                assert set(field["unit"]) == {"field", "metric"}
                assert field["range"]


def test_every_way_to_write_an_amount_is_one_of_the_file() -> None:
    shapes = [set(family.model_fields) - {"shape"} for family in FAMILY]
    for form in FORMS:
        assert not form["parts"] or set(form["parts"]) in shapes


def test_a_row_that_is_added_is_sound() -> None:
    text = (ROOT / "econ" / "scenario" / "starter.toml").read_text(encoding="utf-8")
    lists = {section["list"]: section for section in layout()["sections"] if "list" in section}
    for name, section in lists.items():
        if name == "correlation":  # of amounts that are ranges, which the starter's are not
            continue
        changes: list[dict[str, Any]] = [{"op": "add", "list": name, "values": section["add"]}]
        if name == "afe.earlier":
            changes.append({"op": "set", "key": "afe.supplement", "value": 2})
        if name == "doubt":
            changes.append({"op": "unset", "key": "fishing.workable"})
        new = edited(text, changes)
        assert tomllib.loads(new) != tomllib.loads(text)
        parse(new)


def test_the_form_needs_no_numpy() -> None:
    code = (
        "import sys; from econ.desk.layout import layout; layout()\n"
        "print({'numpy', 'scipy', 'pandas'} & set(sys.modules))"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "set()"
