"""Faults and notes of a scenario in the words of its form.

`econ check` says where in a file: a line, a key. On the form the place is a field with a label, so
the parts of the same fault are said without them: what is written, and what to write. A key that
another part names is called by its label, a unit is that of the file.

    check    line 12, well.hole_diameter: given 0; allowed: 1e-09 or more
    form     Hole size: given 0; write more than 0.
"""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any

from econ.desk.layout import FORMS, Key, keys, layout
from econ.scenario.faults import Fault
from econ.scenario.notes import Beside
from econ.scenario.scenario import dotted

Path = Sequence[str | int]
UNKNOWN_KEY = "an unknown key"  # only who writes the file himself has one
REQUIRED = "; this key is required"
NO_UNIT = {"fraction", "count", "ratio"}
WRITTEN = re.compile(r"= (\.\.\.|\{)|without quotes")  # advice on how to write it into a file


def fault_document(fault: Fault, values: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """A fault as JSON: its key path in dotted words, where it is on the form, and its words there.

    values: of the file, for its units and its money. Where the form has no such place, as for a
    row of a log, the words are those of `econ check`.
    """
    by_hand = fault.given == UNKNOWN_KEY or (fault.line is not None and not fault.path)
    label = "" if by_hand else label_of(fault.path)
    words = said(fault, values or {})
    text = f"{label}: {words[0].lower()}{words[1:]}" if label else words
    if by_hand or (fault.path and not label):
        text = str(fault)
    return {"key": dotted(fault.path), "label": label, "words": words, "text": text}


def beside(note: Beside) -> dict[str, str]:
    """A note on one value as JSON: its key, and its words beside the field.

    >>> beside(Beside("well.depth", "well.depth = 9 ft: is that meant?"))
    {'key': 'well.depth', 'text': '9 ft: is that meant?'}
    """
    place = [int(step) - 1 if step.isdecimal() else step for step in note.key.split(".")]
    return {"key": note.key, "text": _labelled(note.removeprefix(f"{note.key} = "), place)}


def said(fault: Fault, values: Mapping[str, Any]) -> str:
    """What is wrong with the field that a fault is about, and what to write there.

    >>> said(Fault("0", "1e-09 or more", "", ("well", "hole_diameter")), {})
    'Given 0; write more than 0.'
    """
    key = _key(fault.path)
    last = str(fault.path[-1]) if fault.path else ""
    allowed = _allowed(fault.allowed, key, values)
    given = fault.given.removeprefix(f"{last} = ") if fault.given.count(" = ") == 1 else fault.given
    nothing = given == "nothing"
    todo = "" if nothing or WRITTEN.search(fault.suggestion) else fault.suggestion
    given, allowed, todo = (_labelled(each, fault.path) for each in (given, allowed, todo))
    words = f"Write {allowed}" if nothing else f"Given {given}; write {allowed}"
    words = f"{words}; {todo}" if todo else words
    return words if words.endswith("?") else f"{words}."


def label_of(path: Path) -> str:
    """What the form calls a place of the file: the label of a field, with its row; empty where
    there is no such place.

    >>> label_of(("well", "depth")), label_of(("run", 1, "charge")), label_of(("rates", "rig"))
    ('Depth where drilling stopped', 'Run 2: Charges', 'Rate, rig')
    """
    field, row = _labels(), ""
    numbers = [step for step in path if isinstance(step, int)]
    free = _free(path)
    if numbers:
        named = next((each for each in _rows() if free == each or free.startswith(each + "[]")), "")
        row = f"{_rows()[named]} {numbers[0] + 1}" if named else ""
    for count in range(len(path), 0, -1):  # a part of a range is in the field of the range
        label = field.get(_free(path[:count])) or field.get(_free(path[: count - 1]) + ".*")
        if label:
            own = label if _free(path[:count]) in field else f"{label}, {path[count - 1]}"
            return f"{row}: {own}" if row else own
    return row or _titles().get(free) or field.get(f"{free}.*") or _asked().get(free, "")


def _free(path: Path) -> str:
    """A key path without numbers: run[].charge."""
    found = ""
    for step in path:
        found += "[]" if isinstance(step, int) else f"{'.' if found else ''}{step}"
    return found


def _key(path: Path) -> Key | None:
    """The key of the schema at a path, or at the range or table of names that it is inside."""
    for count in range(len(path), 0, -1):
        here, outside = _free(path[:count]), _free(path[: count - 1])
        for name in (here, f"{here}.*", f"{outside}.*"):
            if name in keys():
                return keys()[name]
    return None


def _allowed(text: str, key: Key | None, values: Mapping[str, Any]) -> str:
    """What is allowed, with the unit of the file and without what the label says already."""
    text = text.replace(REQUIRED, "").replace(" in quotes", "").replace(", without quotes", "")
    if key is None:
        return text
    meaning, quantity = key.meaning.replace("\n", " "), key.quantity
    if quantity is None:
        return text[:1].lower() + text[1:] if text.startswith(meaning) and meaning else text
    unit = quantity.unit("metric" if values.get("units") == "metric" else "field")
    unit = unit.replace("currency", str(values.get("currency", "money")))
    number = "a number" if unit in NO_UNIT else f"a number of {unit}"
    text = re.sub(rf"{re.escape(meaning)} \[[^\]]*\]", number, text)
    return text.replace(quantity.allowed(), quantity.plain()).removesuffix("; a number")


@functools.cache
def _labels() -> dict[str, str]:
    return {
        field["key"]: field["label"]
        for section in layout()["sections"]
        for field in [*section["fields"], *section["more"]]
    }


@functools.cache
def _asked() -> dict[str, str]:
    """Labels of what only the first questions ask."""
    text = files("econ.desk").joinpath("questions.toml").read_text(encoding="utf-8")
    return {key: own["label"] for key, own in tomllib.loads(text)["own"].items()}


@functools.cache
def _rows() -> dict[str, str]:
    """What a row of each list is called, longer paths first."""
    found = {each["list"]: each["row"] for each in layout()["sections"] if "list" in each}
    return dict(sorted(found.items(), key=lambda pair: -len(pair[0])))


@functools.cache
def _titles() -> dict[str, str]:
    """The title of the section that has a table of the file, or a list of them."""
    found: dict[str, str] = {}
    for section in layout()["sections"]:
        for key in [section.get("list"), section.get("names")]:
            if key:
                found[key] = section["title"]
    for section in layout()["sections"]:
        for field in section["fields"]:
            parts = field["key"].split(".")
            for count in range(1, len(parts)):
                found.setdefault(".".join(parts[:count]).removesuffix("[]"), section["title"])
    return found


def _labelled(text: str, place: Path) -> str:
    """A text with the labels of the keys that it names; those of the same table first."""
    for form in FORMS:
        written = "{" + ", ".join(form["parts"]) + "}"
        text = text.replace(written, f'"{form["label"]}"')

    def section(match: re.Match[str]) -> str:
        name = match.group(1)
        title = _rows().get(name) if match.group().startswith("[[") else _titles().get(name)
        return f'"{title}"' if title else match.group()

    def key(match: re.Match[str]) -> str:
        word = match.group("word")
        names_a_key = match.group("is") or "_" in word or "." in word
        label = _label_of_word(word, place) if names_a_key else None
        if label is None:
            return match.group()
        return f'"{label}"' + (" " if match.group("is") else "")

    text = re.sub(r"\[\[?([a-z_.]+)\]\]?", section, text)
    words = r"(?<![\w'\".])(?<!- )(?P<word>[a-z]\w*(?:\.\w+)*)(?![\w'\"])(?P<is> = )?"
    return re.sub(words, key, text)


def _label_of_word(word: str, place: Path) -> str | None:
    """The label of a word that names a key, None for any other word."""
    if "." in word:
        steps = [int(step) - 1 if step.isdecimal() else step for step in word.split(".")]
        return label_of(steps) or None
    for table in (place, place[:-1]):
        same = _labels().get(_free((*table, word)))
        if same:
            return same
    return _named().get(word) if "_" in word else None


@functools.cache
def _named() -> dict[str, str]:
    """Labels of keys by their last name, and words of choices."""
    found: dict[str, str] = {}
    for section in layout()["sections"]:
        for field in [*section["fields"], *section["more"]]:
            found.setdefault(field["key"].rsplit(".", maxsplit=1)[-1], field["label"])
            for word, label in field.get("choices", []):
                found.setdefault(word, label)
    return found
