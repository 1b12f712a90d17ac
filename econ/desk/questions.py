"""Ten questions to a first answer.

The answers go into the starter file, as if somebody had filled it in: what was answered stands
without a mark, and what was not is a planning value of the starter, marked REPLACE, judgement
without a source. Facts of the starter's invented job are taken out. Planning values of money are
US dollars for land work; they are turned into the money of the file, and times OFFSHORE for work
offshore.

A job that is begun answers the questions itself (`told`), and only answers that differ from it
change it, besides runs that are added: all else in it stays as it is.

An answer is {key: value}, its keys those of `questions.toml`; one left empty is left out.
"""

from __future__ import annotations

import functools
import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any

from econ.desk.editing import edited, path_of
from econ.desk.layout import keys, layout
from econ.desk.text_blocks import MARK, Text
from econ.desk.values import from_json, refusal, written
from econ.desk.wording import beside, fault_document
from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.load import parse
from econ.scenario.notes.likely import unlikely
from econ.scenario.scenario import Scenario, dotted
from econ.scenario.toml_text import document

Table = dict[str, Any]
STARTERS = {"field": "starter.toml", "metric": "starter_metric.toml"}
DOLLARS = "USD"  # what planning values of money count in
RATE_SAID = """\
# Planning values of money were in US dollars, and are turned at {rate:g} {money} to the dollar.
#
"""
DIGITS = 3  # of a planning value in another money
OFFSHORE = 2.0  # times the planning money of land work; 1.5 to 2.5: judgement, no source
OFFSHORE_SAID = """\
# Planning values of money are those of land work times {factor:g}, for work offshore: judgement, no
# source (1.5 to 2.5 times).
#
"""
FISH, RATES, DAY_RATES, FALLBACK = "fish.piece", "rates", "fishing.day_rates", "fallback[]."
INVENTED = (  # keys of the starter's own story; taken out where they are not answered
    *("job.event", "job.decided_at", "price_date", "well.inclination", "well.mud_weight"),
    *("fish.outside_diameter", "fish.largest_diameter", "fish.inside_diameter"),
    *("fish.top_condition", "fish.mechanism", "afe.number"),
)
LISTS = ("run", "fish.piece", "afe.line", "partner")  # of the same story
LUMPS = {
    "complete_above": ("Complete above the fish", 60.0, 150_000.0),
    "respud": ("Another well", 480.0, 900_000.0),
    "abandon": ("Plug and abandon", 72.0, 200_000.0),
    "drill_past": ("Drill past the fish", 48.0, 60_000.0),
}  # names, hours [h] and cost [USD] to begin with: judgement, no source
CHOSEN = {"instead": ("sidetrack", *LUMPS), "setting": ("land", "offshore")}
LUMP_REMARKS = {
    "hours": "amount, h, 0 or more; at the spread",
    "cost": "amount, 0 or more; besides the spread",
    "value_given_up": "amount, 0 or more; value of the well that is lost",
}
PARTING = {"hours": 8.0, "charge": 12_000.0}  # [h], [USD]; judgement, no source
HEAD = f"""\
# Written by the desk from ten questions.
#
# What was answered stands without a mark. A value marked {MARK} is a planning value for a simple
# job on land, judgement without a source: write your own in its place and take the mark away. What
# stays marked was never looked at. A search for the word finds what is left.
#
"""
CONSENT = "fish.written_consent"
TOUCHES = "every run that drills, mills, washes, taps, cuts or shoots"
HARMS = {  # what a yes to a hazard bars, and what lifts that
    "fish.sealed_source": f"Barred for it: {TOUCHES}, until the licensee agrees in writing and the "
    "depth of the source is proven; and for good what grinds on it.",
    "fish.explosives": f"Barred for them: {TOUCHES}, and what jars or pulls. The explosives crew "
    "alone makes them safe; the answer becomes no when they say so in writing.",
    "fish.lithium_batteries": f"Barred for them: {TOUCHES}, because an opened cell burns. "
    "The owner of the tool says which runs may be made, and how near to the cells; once that is "
    "there in writing, answer yes where the owners agree.",
}
CONSENTED = (
    "Offered are now also runs that touch the fish. Make those alone that the owner agreed to; the "
    "owner's word, the limits stated in it and local rules come before any answer here."
)
WHOSE = (
    "Question 2 has no owner for any piece: name the piece that holds them, and whose it is. Rows "
    "that are pasted there count once they are put in."
)
BEGUN = ("units", "currency", "setting", "instead")  # what the questions set at the start alone
NO_KEYS = ("dollar", "setting", "instead", "attached", "runs")  # answers that are no key of a file


@functools.cache
def questions() -> Table:
    """The questions as JSON: title, what is said with it, fields, and which of them must be.

    >>> len(questions()["questions"])
    10
    """
    raw = tomllib.loads(files("econ.desk").joinpath("questions.toml").read_text(encoding="utf-8"))
    known = {
        each["key"]: each
        for section in layout()["sections"]
        for each in [*section["fields"], *section["more"]]
    }
    for key, own in raw["own"].items():
        known[key] = {"key": key, "required": False, "default": None, **own}
        if "columns" in own:
            known[key]["columns"] = [known[column] for column in own["columns"]]
        if "of" in own:
            known[key]["of"] = known[own["of"]]
    planned = {units: document(_starter(units)) for units in STARTERS}
    asked = []
    for question in raw["question"]:
        fields = []
        for key in question["fields"]:
            path = key.replace("[]", ".0").split(".")
            values = {units: _at(each, path) for units, each in planned.items()}
            own = {*raw["own"], *INVENTED, *question["must"], "fish.bottom"}
            told = key not in own and _amounts(values)
            more = {"planned": values} if told else {}
            needed = key in question["must"] or key == "dollar"  # asked in other money only
            fields.append({**known[key], **more, "needed": needed})
        asked.append({**question, "fields": fields})
    return {"questions": asked}


def _amounts(values: Table) -> bool:
    return all(isinstance(each, (int, float, dict)) for each in values.values()) and not any(
        isinstance(each, bool) for each in values.values()
    )


def _at(values: Any, path: Sequence[str | int]) -> Any:
    for step in path:
        try:
            values = values[int(step)] if isinstance(values, list) else values[step]
        except (KeyError, IndexError, TypeError, ValueError):
            return None
    return values


def _starter(units: str) -> str:
    return files("econ.scenario").joinpath(STARTERS[units]).read_text(encoding="utf-8")


def first_text(answers: Mapping[str, Any], begun: str = "") -> str:
    """The file that the answers make, without runs; begun: the text of a job that they change.

    Raises `ScenarioError` with a fault for every answer that is missing or of the wrong kind.

    >>> text = first_text({"job.well": "Invented 1", "well.depth": 9800, "fish.top": 9300,
    ...     "well.hole_diameter": 8.5, "well.shoe_depth": 3600, "rates": {"rig": 26000}})
    >>> document(text)["fish"]["top"], document(text)["rates"]
    (9300, {'rig': 26000})
    """
    given = {name: from_json(value) for name, value in answers.items() if not _empty(value)}
    _check_known(given, begun=bool(begun))
    if begun:
        return _into(begun, given)
    given.setdefault("fish.bottom", given.get("well.depth"))
    units = given.get("units", "field")
    text = _starter(units if units in STARTERS else "field")
    text = HEAD + text[text.index("# This file is an invented") :].split("#\n", maxsplit=1)[1]
    text = text.replace("; invented", "")
    rate, money = dollar(given), "".join(filter(str.isalnum, str(given.get("currency", DOLLARS))))
    said = OFFSHORE_SAID.format(factor=OFFSHORE) if given.get("setting") == "offshore" else ""
    if money != DOLLARS:
        said = RATE_SAID.format(rate=float(given["dollar"]), money=money) + said
    text = text.replace(HEAD, HEAD + said)
    if money != DOLLARS:
        text = re.sub(rf"(#.*){DOLLARS}", rf"\1{money}", text)
    text = edited(text, _taken_out(document(text)))
    for change in _in_money(text, rate):  # in other money they are planning values all the same
        text = edited(text, [change])
        text = Text(text).marked(path_of(change["key"], document(text)), "judgement, no source")
    text = edited(text, _fallback(given, rate))
    text = edited(text, _answered(given, rate, document(text)))
    return _marked(text, given)


def looked_at(answers: Mapping[str, Any]) -> list[dict[str, str]]:
    """Questions on answers that are rarely met, each with the key of its field.

    >>> looked_at({"well.mud_weight": 96})[0]["key"]
    'well.mud_weight'
    """
    values: Table = {}
    for key, value in answers.items():
        if key not in _asked():
            continue
        place: Any = values
        *before, last = key.replace("[]", ".0").split(".")
        for step in before:
            place = place.setdefault(step, {})
        place[last] = value
    values["fallback"] = [values.get("fallback", {}).get("0")]
    units, money = answers.get("units") or "field", answers.get("currency") or DOLLARS
    notes = [beside(note) for note in unlikely(values, units, money)]
    notes = [{**note, "key": note["key"].replace("fallback.1.", FALLBACK)} for note in notes]
    return notes + _harms(answers)


def _harms(answers: Mapping[str, Any]) -> list[dict[str, str]]:
    """What hazards in the fish bar and what lifts it, each with the key of its field."""
    told, consent = [key for key in HARMS if answers.get(key) is True], answers.get(CONSENT) is True
    pieces = answers.get(FISH)
    owned = any(
        isinstance(each, dict) and each.get("owner")
        for each in (pieces if isinstance(pieces, list) else ())
    )
    found = [
        {"key": key, "text": HARMS[key] if owned else f"{HARMS[key]} {WHOSE}"}
        for key in told
        if not consent or key == "fish.explosives"  # which no consent lifts
    ]
    return found + [{"key": CONSENT, "text": CONSENTED}] * (bool(told) and consent)


def dollar(answers: Mapping[str, Any]) -> float:
    """What a US dollar of land work is planned with: the money that it is in that of the answers,
    OFFSHORE times as much offshore."""
    rate, factor = answers.get("dollar"), OFFSHORE if answers.get("setting") == "offshore" else 1.0
    if answers.get("currency", DOLLARS) in (DOLLARS, "") or not isinstance(rate, (int, float)):
        return factor
    return factor * float(rate)


def with_runs(text: str, fragments: Sequence[str]) -> str:
    """A text with runs behind those that it has; each is the text of a [[run]]."""
    if not fragments:
        return text
    count = len(document(text).get("run", []))
    order = tuple(info.alias or name for name, info in Scenario.model_fields.items())
    place = Text(text).insert_rows(("run",), count, [{}], order)
    empty = Text(place).row_texts(("run",))[-1]
    at = place.rindex(empty)
    joined = "\n".join(fragment.strip("\n") + "\n" for fragment in fragments)
    found = place[:at] + joined + "\n" + place[at + len(empty) :]
    if len(document(found).get("run", [])) != count + len(fragments):
        raise refusal("runs that do not read as runs", "a [[run]] each")
    return found


def told(text: str) -> Table:
    """What a job that is begun answers of the questions, planning values left out; and `runs`, the
    kinds that it has.

    >>> told("well.depth = 9800  # ft\\nfish.top = 9300  # REPLACE: ft")
    {'well.depth': 9800, 'instead': 'sidetrack', 'runs': []}
    """
    here = Text(text)
    marked = [path for path, words in here.remarks().items() if words.startswith(MARK)]

    def own(path: tuple[str | int, ...]) -> Any:
        near = any(each[: len(path)] == path or path[: len(each)] == each for each in marked)
        return None if near else _at(here.values, path)

    def listed(*path: str | int) -> list[Any]:
        value = _at(here.values, path)
        return value if isinstance(value, list) else []

    found: Table = {}
    for key in _asked():
        steps = tuple(0 if step == "[]" else step for step in key.replace("[]", ".[]").split("."))
        if key in (RATES, DAY_RATES):
            names = _at(here.values, steps)
            parts = {name: own((*steps, name)) for name in names} if isinstance(names, dict) else {}
            found[key] = {name: value for name, value in parts.items() if value is not None}
        elif key == FISH:
            rows = [own((*steps, n)) for n in range(len(listed(*steps)))]
            found[key] = [row for row in rows if row is not None]
        elif key not in NO_KEYS:
            found[key] = own(steps)
    first = _at(here.values, ["fallback", 0])
    lump = isinstance(first, dict) and "hours" in first
    found["instead"] = first.get("kind") if lump else "sidetrack"
    found["attached"] = "attached" in listed("fish", "marks") or None
    if found.get("fish.bottom") == found.get("well.depth"):
        del found["fish.bottom"]  # what it is where nobody tells it
    kinds = [row.get("kind", "other") for row in listed("run") if isinstance(row, dict)]
    return {key: value for key, value in found.items() if not _empty(value)} | {"runs": kinds}


def contradictions(answers: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Faults of answers, also between two of them, in the words of the form; what is missing is
    none.

    >>> [each["key"] for each in contradictions({"well.depth": 9000, "fish.top": 9100})]
    ['fish.top']
    >>> pieces = [{"name": "Collars", "length": 200, "value": 0}]
    >>> depths = {"well.depth": 9000, "fish.top": 8900}
    >>> [each["key"] for each in contradictions({**depths, "fish.piece": pieces})]
    ['fish.piece']
    """
    usual = {"units": "field", "currency": DOLLARS, "well.hole_diameter": 1e3}
    given = {**usual, "fish.bottom": answers.get("well.depth"), **answers}
    lines = [
        f"{key} = {written(from_json(value))}"
        for key, value in given.items()
        if key in _asked() - {*NO_KEYS} and not key.startswith(FALLBACK) and not _empty(value)
    ]
    try:
        parse("\n".join(lines), need_odds=False)
    except ScenarioError as error:
        found = [each for each in error.faults if each.given != "nothing"]
        return [fault_document(each, answers) for each in found]
    return []


@functools.cache
def _asked() -> frozenset[str]:
    """Keys of all that is asked."""
    return frozenset(each["key"] for one in questions()["questions"] for each in one["fields"])


def _empty(value: Any) -> bool:
    return value is None or value == "" or value == [] or value == {}


def _check_known(given: Mapping[str, Any], *, begun: bool) -> None:
    """Raise the faults of answers that are missing, or that no question asks for. begun: whether
    they change a job, where planning values are for its new runs alone."""
    must = [key for each in questions()["questions"] for key in each["must"]]
    if given.get("currency", DOLLARS) != DOLLARS and (given.get("runs") or not begun):
        must.append("dollar")  # else planning values would be taken for that money
    faults = [
        Fault("nothing", "an answer: this question must have one", "", tuple(key.split(".")))
        for key in must
        if key not in given
    ]
    faults += [
        Fault(key, "an answer to one of the ten questions") for key in given if key not in _asked()
    ]
    wanted: tuple[tuple[str, Any, str], ...] = (
        (RATES, dict, "amounts by name"),
        (DAY_RATES, dict, "amounts by name"),
        (FISH, list, "a list of pieces"),
        ("dollar", (int, float), "a number above 0"),
        *((key, str, " or ".join(words)) for key, words in CHOSEN.items()),
    )
    for key, kind, words in wanted:
        value = given.get(key)
        wrong = value is not None and (not isinstance(value, kind) or isinstance(value, bool))
        if key == "dollar" and not wrong and value is not None:
            wrong = not (math.isfinite(value) and value > 0)
        if key in CHOSEN and isinstance(value, str) and not begun:
            wrong = value not in CHOSEN[key]
        if wrong:
            faults.append(Fault("another kind of answer", words, "", tuple(key.split("."))))
    if faults:
        raise ScenarioError(faults)


def _taken_out(values: Table) -> list[Table]:
    changes: list[Table] = [{"op": "keep", "key": key} for key in INVENTED]
    changes += [{"op": "set", "key": key, "value": ""} for key in ("job.event", "afe.number")]
    changes += [{"op": "unset", "key": key} for key in (*INVENTED, "draws.n")]
    for name in LISTS:
        place: Any = values
        for step in name.split("."):
            place = place.get(step, [])
        changes += [{"op": "delete", "list": name, "at": 1}] * len(place)
    return changes


def _in_money(text: str, rate: float) -> list[Table]:
    """Planning values of money, in the money of the file."""
    if rate == 1.0:
        return []
    known, changes = keys(), []
    here = Text(text)
    for path in here.remarks():
        key = re.sub(r"\.[0-9]+", "[]", dotted(path))
        free = re.sub(r"^(rates|fishing\.day_rates)\..*", r"\1.*", key)
        quantity = known[free].quantity if free in known else None
        if quantity is not None and quantity.dimension.startswith("money"):
            place: Any = here.values
            for step in path:
                place = place[step]
            if place != 0:
                changes.append({"op": "set", "key": dotted(path), "value": in_money(place, rate)})
        elif key == "fallback[].stick_again":
            cost = {"op": "set", "key": dotted(path) + ".cost"}
            changes.append(
                {**cost, "value": in_money(here.values["fallback"][0]["stick_again"]["cost"], rate)}
            )
    return changes


def in_money(amount: Any, rate: float) -> Any:
    """An amount in another money, to three digits."""
    if isinstance(amount, dict):
        return {name: in_money(each, rate) for name, each in amount.items()}
    found = float(f"{amount * rate:.{DIGITS}g}")
    return int(found) if found == int(found) else found


def _fallback(given: Mapping[str, Any], rate: float) -> list[Table]:
    kind = given.get("instead", "sidetrack")
    if kind == "sidetrack":
        return []
    name, hours, cost = LUMPS[kind]
    row = {"name": name, "kind": kind, "hours": hours, "cost": in_money(cost, rate)}
    row["value_given_up"] = 0
    changes: list[Table] = [{"op": "add", "list": "fallback", "at": 1, "values": row}]
    if kind != "drill_past":  # which is not open once the string or the hole is lost
        changes.append({"op": "delete", "list": "fallback", "at": 2})
    return changes


def _into(text: str, given: Mapping[str, Any]) -> str:
    """A job that is begun, with the answers that differ from what it tells."""
    before = told(text)
    fresh = {
        key: value for key, value in given.items() if key not in BEGUN and value != before.get(key)
    }
    values = document(text)
    changes: list[Table] = []
    if FISH in fresh:
        count = len(values.get("fish", {}).get("piece", []))
        changes += [{"op": "delete", "list": FISH, "at": 1}] * count
    cleared = [key for key in before if key in INVENTED and key not in given]
    changes += [{"op": "unset", "key": key} for key in cleared]
    changes += _answered({**fresh, "instead": before["instead"]}, dollar(given), values)
    return edited(text, changes)


def _answered(given: Mapping[str, Any], rate: float, values: Table) -> list[Table]:
    """What was answered, as changes."""
    changes: list[Table] = []
    lump = given.get("instead", "sidetrack") != "sidetrack"
    for key, value in given.items():
        if key in (*NO_KEYS, RATES, DAY_RATES, FISH):
            continue
        if key.startswith(FALLBACK):
            name = key.removeprefix(FALLBACK)
            if (name in LUMP_REMARKS) == lump:
                changes.append({"op": "set", "key": f"fallback.1.{name}", "value": value})
            continue
        changes.append({"op": "set", "key": key, "value": value})
    for name in (RATES, DAY_RATES):
        section = _at(values, name.split(".")) or {}
        amounts = given.get(name)
        if amounts is None:
            continue
        changes += [
            {"op": "set", "key": [*name.split("."), each], "value": amount}
            for each, amount in amounts.items()
        ]
        changes += [
            {"op": "unset", "key": [*name.split("."), each]}
            for each in section
            if each not in amounts
        ]
    for piece in given.get(FISH, []):
        row = {"name": "Piece", "value": 0, **piece} if isinstance(piece, dict) else piece
        changes.append({"op": "add", "list": FISH, "values": row})
    if given.get("attached"):
        changes.append({"op": "set", "key": "fish.marks", "value": ["attached"]})
        changes.append({"op": "set", "key": "parting.hours", "value": PARTING["hours"]})
        charge = in_money(PARTING["charge"], rate)
        changes.append({"op": "set", "key": "parting.charge", "value": charge})
    return changes


def _marked(text: str, given: Mapping[str, Any]) -> str:
    """With the mark on planning values that are not of the starter."""
    marks: list[tuple[tuple[str | int, ...], str]] = []
    if given.get("instead", "sidetrack") != "sidetrack":
        marks += [
            (("fallback", 0, name), words)
            for name, words in LUMP_REMARKS.items()
            if FALLBACK + name not in given
        ]
    if given.get("attached"):
        marks += [(("parting", "hours"), "h, 0 or more"), (("parting", "charge"), "0 or more")]
    for path, words in marks:
        text = Text(text).marked(path, f"{words}, judgement, no source")
    return text
