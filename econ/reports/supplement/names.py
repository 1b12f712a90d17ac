"""What prices and lines of the estimate are called: part of the job, cost code, words, unit."""

from __future__ import annotations

from dataclasses import dataclass

from econ.engine.ledger import LINES
from econ.engine.priced import Key, Product
from econ.scenario.scenario import Scenario

SLICES = {
    "1a": "1a Fishing to the limit",
    "1b": "1b Work after a recovery",
    "2": "2 Fallback",
    "compared": "Compared, not spent",
}
WORDS = {  # of a price by its key: words and unit
    "mobilization": ("Mobilization", "once"),
    "day": ("Rate while working", "a day"),
    "standby_day": ("Rate while standing by", "a day"),
    "redress": ("Redress", "a run"),
    "per_foot": ("Wash pipe, by length washed", "a length"),
    "replacement": ("Replacement", "each"),
    "value": ("Value", "each"),
    "depreciation": ("Share written off", "share"),
    "floor": ("Least share owed", "share"),
    "lost_in_hole_share": ("Share of the pieces left that is owed", "share"),
    "directional_day": ("Directional services", "a day"),
    "plug_cost": ("Materials and pumping of a plug", "each"),
    "bit_cost": ("Bit", "each"),
    "logging_cost": ("Logs again", "once"),
    "other_cost": ("Permits and other costs", "once"),
    "value_given_up": ("Value of the well given up, not spent", "once"),
    "cost_once": ("Ending late, once", "once"),
    "cost_per_day": ("Ending late, for each day", "a day"),
    "charge": ("Charges", "once"),
}
NESTED = {
    "whipstock": "Attempt with a whipstock",
    "stick_again": "Sticking again, if it happens",
    "trouble": "Trouble, if it happens",
}
NAMED = {
    ("common", "cost"): "Owed first on every branch, besides the spread",
    ("parting", "charge"): "Getting off the fish",
}
OF_LINES = {  # line of the ledger, and key of the price or part of the quantity: code, words, unit
    ("common", "common_days"): ("FS50", "Owed before any choice: time", "d"),
    ("common", "once"): ("FS50", "Owed before any choice: charges", "times"),
    ("spread", "fishing_days"): ("FS10", "Rig and standing services", "d"),
    ("fishing_day", "paid_days"): ("FS20", "Fishing services", "d"),
    ("mobilization", "mobilized"): ("FS60", "Mobilization", "times"),
    ("charges", "run"): ("FS40", "Charge, run {}", "runs"),
    ("charges", "parted"): ("FS40", "Charge, getting off the fish", "times"),
    ("rentals", "called"): ("FS30", "{}: mobilization", "times"),
    ("rentals", "working"): ("FS30", "{}: days billed at the working rate", "d"),
    ("rentals", "standby"): ("FS30", "{}: days billed at the standby rate", "d"),
    ("rentals", "runs"): ("FS30", "{}: redress", "runs"),
    ("rentals", "length"): ("FS30", "{}: length washed", "length"),
    ("recovery", "recovery_days"): ("FS80", "After a recovery: rig and standing services", "d"),
    ("recovery", "recovery_paid_days"): (
        "FS80",
        "After a recovery: fishing services paid",
        "d",
    ),
    ("recovery", "recovered"): ("FS80", "After a recovery: charges", "times"),
    ("late_recovered", "late"): ("RG40", "Ending late, once: {}", "times"),
    ("late_recovered", "days_late"): ("RG40", "Ending late, days late: {}", "d"),
    ("late_fallback", "late"): ("RG40", "Ending late, once: {}", "times"),
    ("late_fallback", "days_late"): ("RG40", "Ending late, days late: {}", "d"),
    ("approval", "approval_days"): ("ST10", "Wait for the approval of a plug over a source", "d"),
    ("fallback_time", "days"): ("ST10", "Rig and standing services: {}", "d"),
    ("fallback_time", "directional_day"): ("ST30", "Directional services: {}", "d"),
    ("fallback_charges", "plugs"): ("ST20", "Plugs: {}", "times"),
    ("fallback_charges", "mobilization"): ("ST30", "Directional crew, mobilization: {}", "times"),
    ("fallback_charges", "bits"): ("ST40", "Bits: {}", "times"),
    ("fallback_charges", "logging_cost"): ("ST60", "Logs again: {}", "times"),
    ("fallback_charges", "other_cost"): ("RG20", "Permits and other costs: {}", "times"),
    ("fallback_charges", "cost"): ("ST90", "Charges: {}", "times"),
    ("kickoff_trouble", "retry_days"): ("ST80", "Kick-off made again, time: {}", "d"),
    ("kickoff_trouble", "retries"): ("ST80", "Kick-off made again, plugs: {}", "times"),
    ("kickoff_trouble", "whipstocks"): ("ST80", "Attempts with a whipstock: {}", "times"),
    ("sticking", "stick_again"): ("ST85", "Sticking again: {}", "times"),
    ("sticking", "trouble"): ("ST85", "Trouble: {}", "times"),
    ("value_given_up", "taken"): ("", "Value given up, not spent: {}", "times"),
    ("lost_in_hole", "piece"): ("LH20", "Left in the hole: {}", "pieces"),
    ("string_lost", "string"): ("LH50", "String and tools of run {}", "times"),
}
OF_SLICES = {"fishing": "1a", "recovery": "1b", "fallback": "2"}


@dataclass(frozen=True)
class Named:
    """A line: cost code, slice, words, unit; place: which run, rental, piece or fallback it is of,
    where two have the same name."""

    code: str
    slice: str
    words: str
    unit: str
    place: str


def of_price(scenario: Scenario, key: Key) -> tuple[str, str, str]:
    """Part of the job, words and unit of a price."""
    section, last = key[0], str(key[-1])
    if section == "rates":
        return "Every branch", last.replace("_", " "), "a day"
    if section == "fishing" and len(key) > 2:
        return "Fishing", last.replace("_", " "), "a day"
    words, unit = WORDS.get(last, (last.replace("_", " "), "each"))
    if section == "run":
        run = f"{int(key[1]) + 1}. {scenario.run[int(key[1])].name}"
        if last == "charge":
            return "Charge of a run", run, "each"
        return "Lost in hole", f"String of run {run}", "each"
    if section == "rental":
        unit = "a unit of length" if last == "per_foot" else unit
        return f"Rental: {scenario.rental[int(key[1])].tool}", words, unit
    if section == "fallback":
        words = {"cost": "Cost besides the spread"}.get(last, words)
        if len(key) > 3:
            words, unit = NESTED[str(key[2])], "each"
        return scenario.fallback[int(key[1])].name, words, unit
    if section == "fish":
        piece = scenario.fish.piece[int(key[2])]
        return "Lost in hole", f"{piece.name}: {words.lower()}", unit
    part = {"common": "Every branch", "recovery": "After a recovery", "deadline": "Deadline"}
    return part.get(str(section), "Fishing"), NAMED.get((str(section), last), words), unit


def of_line(scenario: Scenario, product: Product) -> Named:
    """What the line of a product is called. The price tells before the quantity does."""
    ledger, parts, key = product.ledger, product.quantity.split("."), product.prices[-1]
    telling = ((ledger, each) for each in (*key[:-3:-1], *parts[::-1]))
    code, words, unit = next(OF_LINES[each] for each in telling if each in OF_LINES)
    place = parts[1] if len(parts) > 1 else ""
    name = ""
    if parts[0] in ("run", "string"):
        name = f"{int(place) + 1}: {scenario.run[int(place)].name}"
    elif parts[0] == "rental":
        name = scenario.rental[int(place)].tool
    elif "piece" in parts:
        place = parts[-1]
        name = scenario.fish.piece[int(place)].name
    elif place:
        name = "fish out" if place == "out" else scenario.fallback[int(place)].name
    slice_ = "compared" if ledger == "value_given_up" else OF_SLICES[LINES[ledger]]
    return Named(code, slice_, words.format(name), unit, place)
