"""What each report shows of a job, read back by name, each reader in its own way.

A reading is a dictionary of `Shown`: a number, and by how much it may be off because of the
digits that are printed. Money is in currency, days are days, chances are fractions. Names that
end in a number stand for a limit on runs ("cost 2") or for the runs before which so many have
failed ("belief 2"). Odds that a run needs are 0 where they are below 0, and infinite where the
run never pays. Nothing here asks the answer: each reader sees the report and no more.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import unescape
from typing import Any

import numpy as np
from workbook_cells import Cells, cells_of, place_of

from econ.decision.page_model import PageModel, Position, State
from econ.reports.amounts import SCALES

Table = dict[str, Any]
EXACT = 1e-9  # of a number that is written to the last digit
NINE_FIGURES = 1e-7  # of a number that is a sum of numbers written to nine figures
AMOUNT = r"(-?\d+(?:,\d{3})*(?:\.\d+)?)"


@dataclass(frozen=True)
class Shown:
    """A number as a report shows it, and half of its last digit."""

    value: float
    off: float


Reading = dict[str, Shown]


def exact(value: float, share: float = EXACT) -> Shown:
    """A number that is written out."""
    return Shown(float(value), share * max(1.0, abs(value)))


def printed(token: str, scale: float = 1.0) -> Shown:
    """A number in words, as many digits as it has; scale: what its last whole digit stands for."""
    decimals = len(token.partition(".")[2])
    half = 0.5 * 10.0**-decimals * scale
    return Shown(float(token.replace(",", "")) * scale, half * (1.0 + 1e-6))


def needed(odds: float | None) -> float:
    """Odds that a run needs, as they are compared."""
    return math.inf if odds is None or odds > 1.0 else max(odds, 0.0)


def needed_in_words(token: str) -> Shown:
    """The same from words."""
    return Shown(math.inf, 0.0) if token == "never" else printed(token)


def _flat(limits: Sequence[int]) -> Reading:
    """Every limit within 2 % of the best, and how many there are."""
    found = {f"flat {number}": exact(limit) for number, limit in enumerate(limits)}
    return found | {"flat limits": exact(len(limits))}


# ---- the document ------------------------------------------------------------------------------


def of_document(written: str) -> Reading:
    """What `econ answer --json` prints."""
    told: Table = json.loads(written)
    best, authority = told["answer"], told["authority"]
    one, two, run = authority["stage_1"], authority["stage_2"], told["next_run"]
    values = {
        "fish": best["verb"] == "fish",
        "best limit": best["runs"],
        "days": best["days"],
        "expected cost": best["expected_cost"],
        "error": best["standard_error"],
        "stopping now": best["fallback_now"],
        "saving": best["saving"],
        "to the end": best["to_the_end"],
        "out": best["probability_recovered"],
        **{name: best[name.lower()] for name in ("P10", "P50", "P90")},
        **{f"stage 1 {name}": one[name.lower()] for name in ("planned", "mean", "P90")},
        "stage 2 chance": two["probability"],
        **{f"stage 2 {name}": two[name.lower()] for name in ("mean", "P90")},
        "waiting": authority["waiting_cost"],
        "response": authority["waiting_hours"],
        "slice 1a planned": authority["slices"][0]["planned"],
        "authority": authority["given"],
        "suffices": authority["suffices"],
        "stage 1 suffices": authority["stage_1_suffices"],
    }
    if authority["waiting_hours"]:
        values["spread"] = authority["waiting_cost"] / authority["waiting_hours"] * 24.0
    if run is not None:
        values |= {f"next {name}": run[name] for name in ("odds", "days", "cost")}
        values |= {"gain": run["gain"], "needs": needed(run["break_even_odds"])}
    for row in told["by_runs"]:
        n = row["runs"]
        values |= {f"cost {n}": row["expected_cost"], f"days {n}": row["days"]}
        values |= {f"out {n}": row["probability_recovered"], f"error {n}": row["standard_error"]}
        values |= {f"{name} {n}": row[name.lower()] for name in ("P10", "P50", "P90")}
    for row in told["belief"]:
        k = row["failed_runs"]
        values |= {f"belief {k}": row["workable"], f"odds {k}": row["next_odds"]}
    for row in told["risk"]["by_runs"]:
        values[f"worst tenth {row['runs']}"] = row["worst_tenth"]
    rows = {name: exact(value) for name, value in values.items() if value is not None}
    return rows | _flat(best["flat_limits"])


# ---- words -------------------------------------------------------------------------------------


def scale_of(unit: str) -> float:
    """What a unit such as "thousand USD" stands for."""
    first = unit.split()[0]
    return 1000.0 ** SCALES.index(first) if first in SCALES else 1.0


def of_words(words: str, scale: float) -> Reading:
    """Figures in the sentences of a verdict, a next run and an authority, in one long line."""
    unit = r"(?: (?:thousand|million|billion))?(?: [A-Z]{3})?"
    money = rf"{AMOUNT}{unit}"
    found: Reading = {}

    def read(pattern: str, **names: float) -> bool:
        """One sentence; names of its places, in order, each with the scale of its number."""
        match = re.search(pattern, words)
        if match is None:
            return False
        for (name, times), token in zip(names.items(), match.groups(), strict=True):
            if token is not None:
                found[name.replace("_", " ")] = printed(token, times)
        return True

    percent = r"(\d+(?:\.\d+)?) %"
    found["fish"] = exact(bool(re.match("(close call, leaning )?fish on", words, re.IGNORECASE)))
    if not read(r"at most (\d+) more runs?, about (\d+(?:\.\d+)?) days", best_limit=1, days=1):
        read(r"(0) more runs, (0) days", best_limit=1, days=1)
        none = "no limit by runs pays|as listed the runs do not pay|(?i:no run is left)"
        if re.search(rf"{none}|Fishing is over|fish is out:", words):
            found["best limit"] = exact(0)
    read(rf"(?:[Ee]xpected cost|after recovery costs) {money}", expected_cost=scale)
    read(rf"{money} less than stopping now \({money}\)", saving=scale, stopping_now=scale)
    read(rf"Making every run as listed costs {money}", to_the_end=scale)
    read(rf"P10 {money}, P50 {money}, P90 {money}\. P90 is", P10=scale, P50=scale, P90=scale)
    read(rf"{percent} chance that the fish comes out", out=0.01)
    read(rf"{percent} chance to end dearer", dearer=0.01)
    if match := re.search(r"Odds:? (\d+(?:\.\d+)?) against break-even (\d+(?:\.\d+)?)", words):
        found |= {"next odds": printed(match[1]), "needs": printed(match[2])}
    elif match := re.search(r"Odds:? (\d+(?:\.\d+)?); it pays by itself at no odds", words):
        found |= {"next odds": printed(match[1]), "needs": needed_in_words("never")}
    if match := re.search(rf"(gains|loses) {money}", words):
        gain = printed(match[2], scale)
        found["gain"] = gain if match[1] == "gains" else Shown(-gain.value, gain.off)
    read(rf"{money} planned if all runs fail", stage_1_planned=scale)
    read(
        rf"planned if all runs fail, mean {money}(?:, P90 {money})?",
        stage_1_mean=scale,
        stage_1_P90=scale,
    )
    if read(rf"no run is made; {money} is owed", stage_1_mean=scale):
        pass
    elif re.search("nothing is asked for", words):
        found["stage 1 mean"] = Shown(0.0, 0.5 * scale)
    read(rf"{money} for the work after recovery", stage_1_mean=scale)
    read(
        rf"needed with {percent} chance, mean {money}(?:, P90 {money})?",
        stage_2_chance=0.01,
        stage_2_mean=scale,
        stage_2_P90=scale,
    )
    if re.search(r"the fallback(?:, with no further vote)?:? +not needed", words):
        found["stage 2 chance"] = Shown(0.0, 1e-9)
    read(
        rf"To wait {AMOUNT} h(?: .[0-9.]+ h on working days.)? for a vote with the rig standing "
        rf"costs {money}",
        response=1,
        waiting=scale,
    )
    read(rf"{money} suffices for the whole with", authority=scale)
    read(rf"suffices for the whole with {percent} chance", suffices=0.01)
    read(rf"for the fishing alone with {percent}", stage_1_suffices=0.01)
    if match := re.search(r"Flat: (.*?) runs? cost within 2 %", words):
        found |= _flat(list(_limits(match[1])))
    return found


def _limits(words: str) -> Iterator[int]:
    for part in re.split(r", | and ", words):
        low, _, high = part.partition(" to ")
        yield from range(int(low), int(high or low) + 1)


def of_text(text: str) -> Reading:
    """The answer as text: its sentences, the curve, the table of failures."""
    match = re.search(r"If you stop after so many runs \((.*)\):", text)
    assert match is not None
    scale = scale_of(match[1])
    # names of runs and remarks of a log are no figures of the answer
    words = " ".join(re.sub(r"(?s)\n\nSO FAR.*?(?=\n\nIf you stop)", "", text).split())
    found = of_words(words, scale)
    if match := re.search(
        rf"NEXT RUN \(.*?\):.*? (\d+(?:\.\d+)?) days, {AMOUNT}[^.]*\. Odds", words
    ):
        found |= {"next days": printed(match[1]), "next cost": printed(match[2], scale)}
    if match := re.search(rf"An hour of waiting costs {AMOUNT}", words):
        found["hour"] = printed(match[1])
    names = [("cost", scale), ("error", scale), ("P10", scale), ("P50", scale), ("P90", scale)]
    for mark, cells in _rows(text, "  runs  days    mean"):
        n = cells[0]
        found[f"days {n}"] = printed(cells[1])
        for (name, times), cell in zip(names, cells[2:7], strict=True):
            found[f"{name} {n}"] = printed(cell, times)
        found[f"out {n}"] = printed(cells[7], 0.01)
        found["to the end"] = found[f"cost {n}"]
        if mark == ">":
            best = (("error", "error"), ("P10", "P10"), ("P50", "P50"), ("P90", "P90"))
            found |= {name: found[f"{short} {n}"] for name, short in best}
            found.setdefault("best limit", printed(n))
            found.setdefault("out", found[f"out {n}"])
            found.setdefault("days", found[f"days {n}"])
    for n, cells in _rows(text, "  runs     P90   worst 1/10"):
        found[f"worst tenth {cells[0]}"] = printed(cells[2], scale)
        assert n in (">", " ")
    for k, (_, cells) in enumerate(_rows(text, "  run  belief   odds")):
        if cells[1] != "-":  # of a run that depends on none of several doubts
            found[f"belief {k}"] = printed(cells[1])
        found[f"odds {k}"] = printed(cells[2])
        found[f"needs {k}"] = needed_in_words(cells[3])
        found[f"run cost {k}"] = printed(cells[4], scale)
    if "cost 0" in found:
        found.setdefault("stopping now", found["cost 0"])
    return found


def _rows(text: str, head: str) -> Iterator[tuple[str, list[str]]]:
    """Mark and cells of the rows of numbers under a head."""
    if head not in text:
        return
    for line in text.partition(head)[2].split("\n")[1:]:
        if not re.match(r"[> ] *\d+ ", line):
            return
        yield line[0], line[1:].replace(" %", "").split()


# ---- the memo ----------------------------------------------------------------------------------


def of_memo(memo: bytes) -> Reading:
    """The memo as HTML: its sentences, lists and tables."""
    html = memo.decode("utf-8")
    verdict = _plain(*re.findall(r'(?s)<p class="verdict">(.*?)</p>', html))
    because = _plain(*re.findall(r'(?s)<div class="because">(.*?)</div>', html))
    facts = {
        _plain(label): _plain(words)
        for label, words in re.findall(r"(?s)<dt>(.*?)</dt><dd>(.*?)</dd>", html)
    }
    grids: dict[str, list[list[str]]] = {}
    for title, body in re.findall(r"(?s)<section><h2>([^<]*)</h2>\s*<div(.*?)</section>", html):
        rows = re.findall(r"(?s)<tr[^>]*>(.*?)</tr>", body.partition("<tbody>")[2])
        grids[title] = [[_plain(c) for c in re.findall(r"<td>(.*?)</td>", r)] for r in rows]
    title = next(title for title in grids if title.startswith("Limits on runs"))
    scale = scale_of(title.partition("(")[2].rstrip(")"))
    kept = {key: words for key, words in facts.items() if key not in ("Run", "Money spent")}
    lines = [f"{key}: {words}" for key, words in kept.items()]
    in_full = _plain(*re.findall(r'(?s)<dd class="whole">(.*?)</dd>', html))
    found = of_words(" ".join([verdict, because, in_full, *lines]), scale)
    if match := re.match(rf"{AMOUNT} h and {AMOUNT} ", facts.get("Takes", "")):
        found["next days"] = printed(match[1], 1.0 / 24.0)
        found["next cost"] = printed(match[2], scale)
    if "An hour of waiting" in facts:
        found["hour"] = _with_its_unit(facts["An hour of waiting"])
    stop = facts["Runs"].split()
    found["best limit in the stop rule"] = printed(stop[0])
    found["days in the stop rule"] = printed(facts["Days"].split()[0])
    # in full and rounded up
    money = float(facts["Money"].split()[0].replace(",", ""))
    found["money in the stop rule"] = Shown(money - 0.5, 0.5 * (1.0 + 1e-6))
    names = ("cost", "P10", "P50", "P90", "worst tenth")
    for cells in grids[title]:
        n = cells[0]
        found[f"days {n}"] = printed(cells[1])
        for name, cell in zip(names, cells[2:7], strict=True):
            found[f"{name} {n}"] = printed(cell, scale)
        found[f"out {n}"] = printed(cells[7].removesuffix(" %"), 0.01)
    found.setdefault("stopping now", found["cost 0"])
    best = f"{found['best limit in the stop rule'].value:.0f}"
    for name in ("out", "P10", "P50", "P90", "days"):
        found.setdefault(name, found[f"{name} {best}"])
    for k, cells in enumerate(grids.get("What each failure teaches", [])):
        _, *beliefs, odds, need = cells
        if len(beliefs) == 1:  # else one a doubt
            found[f"belief {k}"] = _percent(beliefs[0])
        found[f"odds {k}"] = _percent(odds)
        found[f"needs {k}"] = needed_in_words(need) if need == "never" else _percent(need)
    assumed = ("Assumptions that move the answer", "Other assumptions")
    for name, value, _ in [row for title in assumed for row in grids.get(title, [])]:
        for start, of in (("spread,", "spread"), ("fishing day,", "fishing day")):
            if name.startswith(start):
                found[of] = _with_its_unit(value)
    return found


def _percent(token: str) -> Shown:
    """A chance in percent."""
    return printed(token.removesuffix(" %"), 0.01)


def _with_its_unit(words: str) -> Shown:
    """An amount of three digits with a word for its size: "53.0 thousand USD"."""
    number, unit = words.split()[:2]
    return printed(number, scale_of(unit))


def _plain(*pieces: str) -> str:
    """The words of pieces of HTML."""
    bare = unescape(re.sub(r"<[^>]*>", " ", " ".join(pieces)))
    return re.sub(r" (?=[.,;])", "", " ".join(bare.split()))


# ---- the page ----------------------------------------------------------------------------------


def of_page(page: bytes) -> Reading:
    """The page at rest, from its data alone: its coefficients, evaluated, and its constants."""
    html = page.decode("utf-8")
    data: Table = json.loads(_block(html))
    model, file = data["model"], data["file"]
    knobs = {knob["name"]: knob for knob in data["knobs"]}
    arrays = {name: np.array(model[name]) for name in ("belief", "odds", "table", "recovery")}
    at = PageModel(
        knobs=(),
        base=Position(**model["base"]),
        limits=model["limits"],
        minimum=data["minimum"],
        fallback_now=model["fallback_now"],
        slowness=tuple(model["slowness"]),
        states=tuple(State(**state) for state in model["states"]),
        mobilization=model["mobilization"],
        more={name: np.array(value) for name, value in model["more"].items()},
        **arrays,
    ).at(Position(**model["base"]))
    best = file["runs"]
    values = {
        "best limit": best,
        "expected cost": at.cost[best],
        "stopping now": at.cost[0],
        "saving": at.cost[0] - at.cost[best],
        "to the end": at.cost[-1],
        "out": at.recovered[best],
        "stage 1 planned": at.planned[best],
        "stage 1 mean": at.fishing[best],
        "stage 2 chance": 1.0 - at.recovered[best],
        "stage 2 mean": at.fallback[best],
        "days": at.days[best],
        **{f"cost {n}": cost for n, cost in enumerate(at.cost)},
        **{f"out {n}": chance for n, chance in enumerate(at.recovered)},
        **{f"days {n}": days for n, days in enumerate(at.days)},
    }
    if len(at.cost) > 1:
        values |= {"next odds": at.next_odds}
        values["needs"] = needed(None if math.isnan(at.break_even) else at.break_even)
        values["gain"] = at.cost[0] - at.cost[1]
    if "workable" in knobs:
        values["belief 0"] = knobs["workable"]["now"]
    largest = float(at.cost.max())
    found = {name: exact(value, NINE_FIGURES) for name, value in values.items()}
    for name in ("expected cost", "stage 1 mean", "stage 1 planned", "gain", "saving"):
        if name in found:  # sums of amounts as large as the dearest limit
            found[name] = Shown(found[name].value, NINE_FIGURES * largest)
    need = 1.0 - float(at.recovered[best])
    if need > 1e-6:
        found["stage 2 mean"] = Shown(found["stage 2 mean"].value, NINE_FIGURES * largest / need)
    else:
        del found["stage 2 mean"]
    constants = {
        "fish": file["fish"],
        "stage 1 P90": file["p90"][0],
        "stage 2 P90": file["p90"][1],
        "waiting": data["waiting"]["cost"],
        "response": data["waiting"]["hours"],
        "authority": file["given"],
        "suffices": file["suffices"],
        "stage 1 suffices": file["stage_1_suffices"],
        "spread": knobs["spread"]["amount"],
        "expected cost of the file": file["expected_cost"],
    }
    if "fishing_day" in knobs:
        constants["fishing day"] = knobs["fishing_day"]["amount"]
    found |= {name: exact(value) for name, value in constants.items() if value is not None}
    error = re.search(rf"has a standard error of (?:less than )?{AMOUNT}", html)
    assert error is not None
    if "less than" not in error[0]:
        found["error"] = printed(error[1], data["scale"])
    return found | _flat(file["flat_limits"])


def of_browser(document: str) -> Reading:
    """The page at rest after its own script has run in a browser."""
    data: Table = json.loads(_block(document))
    shown = re.sub(r"(?s)<script.*?</script>|<style.*?</style>|<svg.*?</svg>", " ", document)
    parts = [
        *re.findall(r'(?s)<p id="sentence"[^>]*>(.*?)</p>', shown),
        *re.findall(r'(?s)<p id="because"[^>]*>(.*?)</p>', shown),
        *re.findall(r'(?s)<section id="authority">(.*?)</section>', shown),
    ]
    found = of_words(_plain(*parts), data["scale"])
    values = {key: value for value, key in re.findall(r'data-value="([^"]*)" id="([^"]*)"', shown)}
    values |= dict(re.findall(r'id="([^"]*)" data-value="([^"]*)"', shown))
    named = {
        "planned": "stage 1 planned",
        "mean": "stage 1 mean",
        "need": "stage 2 chance",
        "fallback-mean": "stage 2 mean",
        "waiting": "waiting",
    }
    largest = 0.0
    body = re.search(r'(?s)<table id="limits">.*?<tbody>(.*?)</tbody>', shown)
    assert body is not None
    for row in re.findall(r"(?s)<tr[^>]*>(.*?)</tr>", body[1]):
        n, days, out, cost, _ = re.findall(r'data-value="([^"]*)"', row)
        found |= {f"cost {n}": exact(float(cost), NINE_FIGURES), f"out {n}": exact(float(out))}
        found[f"days {n}"] = exact(float(days), NINE_FIGURES)
        found["to the end"] = found[f"cost {n}"]
        largest = max(largest, float(cost))
    for key, name in named.items():
        if values.get(key):
            found[name] = Shown(float(values[key]), NINE_FIGURES * 10.0 * largest)
    flips = re.search(r'(?s)data-flip="next_odds">(.*?)</tr>', shown)
    if flips is not None and (need := re.search(r'data-value="([^"]*)"', flips[1])):
        found["needs"] = exact(needed(float(need[1]) if need[1] else None), NINE_FIGURES)
    odds = re.search(r'id="next_odds-value"[^>]*data-value="([^"]*)"', shown)
    if odds is not None:
        found["next odds"] = exact(float(odds[1]), NINE_FIGURES)
    return found


def _block(html: str) -> str:
    match = re.search(r'(?s)<script type="application/json" id="data">(.*?)</script>', html)
    assert match is not None
    return match[1]


# ---- the supplement ----------------------------------------------------------------------------


def of_workbook(book: bytes) -> Reading:
    """The cells of the supplement as they are written in the file."""
    wanted = ("Supplement", "Rounding", "Options", "Prices", "Estimate")
    read = {name: _rows_of(found) for name, found in cells_of(book, *wanted).items()}
    exact_ = _labelled(read["Rounding"])  # amounts before they are rounded, and slices of no run
    first = exact_ | _labelled(read["Supplement"])
    values: dict[str, float] = {}
    places = {
        "waiting": ("Spread while the reply is waited for", 0),
        "hour": ("The same with fishing services on hire", 0),
        "stage 2 chance": ("2 Fallback", 0),
        "stage 2 mean": ("2 Fallback", -2),
        "stage 2 P90": ("2 Fallback", -1),
        "best limit": ("Runs from now on, at most", 0),
    }
    for name, (label, place) in places.items():
        values[name] = first[label][place]
    hour = first["Spread for each hour of waiting"][0]
    values["response"] = values["waiting"] / hour  # of the clock
    (fishing,) = (row for words, row in exact_.items() if words.startswith("1a "))
    values["slice 1a planned"] = fishing[0]
    values["spent"] = exact_["Sum"][0]
    names = ("days", "cost", "P10", "P50", "P90", "out")
    best = int(values["best limit"])
    for cells in _table(read["Options"], "Every limit"):
        n, *numbers = cells
        values |= {f"{name} {n:.0f}": x for name, x in zip(names, numbers[:6], strict=True)}
        if n == best:
            values |= dict(zip(names, numbers[:6], strict=True))
        values["to the end"] = numbers[1]
    values["expected cost"] = values.pop("cost")
    values["stopping now"] = values["cost 0"]
    for k, cells in enumerate(_table(read["Options"], "Runs of the plan")):
        # the odds that a run needs are left blank where it never pays
        need = cells[2] if len(cells) == 6 else None
        belief, days, cost = cells[-3:]
        values |= {f"odds {k}": cells[1], f"belief {k}": belief, f"run cost {k}": cost}
        values[f"needs {k}"] = needed(need)
        if k == 0:
            values |= {"next days": days, "next cost": cost, "next odds": cells[1]}
            values["needs"] = needed(need)
    prices = _labelled(read["Prices"], 1)
    values["spread"] = prices["Spread"][0]
    values["fishing day"] = prices["Fishing day"][0]
    # stage 1 is 1a and 1b, each times its chance
    values["stage 1 mean"] = fishing[1] + exact_["1b Work after a recovery"][1]
    # what is spent and what is given up make up the expected cost
    lines = _labelled(read["Estimate"], 1).items()
    given_up = sum(row[5] for words, row in lines if words.startswith("Value given up"))
    values["cost of both stages"] = values["spent"] + given_up
    return {name: exact(value) for name, value in values.items()}


Sheet = list[list[Any]]  # rows of cells: words, numbers, truth values, None


def _rows_of(found: Cells) -> Sheet:
    """The cells of a sheet in rows, all as wide as the widest."""
    places = {place_of(name): value for name, value in found.items()}
    high, wide = (1 + max(numbers) for numbers in zip(*places, strict=True))
    return [[places.get((row, column)) for column in range(wide)] for row in range(high)]


def _labelled(sheet: Sheet, column: int = 0) -> dict[str, list[Any]]:
    """Numbers to the right of the words in a column; of equal words the first."""
    rows: dict[str, list[Any]] = {}
    for cells in sheet:
        if isinstance(cells[column], str):
            numbers = [c for c in cells[column + 1 :] if isinstance(c, (int, float))]
            rows.setdefault(cells[column], numbers)
    return rows


def _table(sheet: Sheet, title: str) -> Iterator[list[float]]:
    """Numbers in the rows under a title, to the first row without any."""
    rows = iter(sheet)
    for cells in rows:
        if title in cells:
            break
    begun = False
    for cells in rows:
        numbers = [c for c in cells[1:] if isinstance(c, (int, float))]
        if numbers:
            begun = True
            yield numbers
        elif begun:
            return


# ---- before and after --------------------------------------------------------------------------

CHANGED = {
    "expected_cost": ("expected cost", "expected cost"),
    "fallback_now": ("stopping now", "stopping now"),
    "saving": ("saving", "saving"),
    "probability_recovered": ("out", "chance fish is out"),
    "days": ("days", "days to the limit"),
    "dearer": ("dearer", "chance it ends dearer"),
    "p10": ("P10", "P10"),
    "p50": ("P50", "P50"),
    "p90": ("P90", "P90"),
    "belief": ("belief 0", "chance it is workable"),
    "next_odds": ("next odds", "odds"),
    "next_break_even": ("needs", "odds it needs"),
    "next_days": ("next days", "days"),
    "next_cost": ("next cost", "cost"),
    "stage_1_planned": ("stage 1 planned", "stage 1 planned"),
    "stage_1_mean": ("stage 1 mean", "stage 1 mean"),
    "stage_1_p90": ("stage 1 P90", "stage 1 P90"),
    "stage_2_probability": ("stage 2 chance", "chance of stage 2"),
    "stage_2_mean": ("stage 2 mean", "stage 2 mean"),
    "stage_2_p90": ("stage 2 P90", "stage 2 P90"),
    "within_authority": ("suffices", "chance in authority"),
    "stage_1_within_authority": ("stage 1 suffices", "stage 1 in authority"),
}


def of_whatif(written: str, side: str = "before") -> Reading:
    """One side of a comparison, from what `econ whatif --json` prints."""
    told: Table = json.loads(written)
    half = told[side]
    found = {"fish": exact(half["verb"] == "fish"), "best limit": exact(half["runs"])}
    found |= {"days of the side": exact(half["days"])} | _flat(half["flat_limits"])
    for figure in told["figures"]:
        name, value = CHANGED[figure["name"]][0], figure[side]
        if name == "needs":
            value = needed(value)
        if value is not None:
            found[name] = exact(value)
    for row in told["by_runs"]:
        found[f"cost {row['runs']}"] = exact(row[side])
        found["to the end"] = exact(row[side])
    if "cost 1" in found:
        found["gain"] = exact(found["cost 0"].value - found["cost 1"].value)
    return found


def of_whatif_text(text: str) -> Reading:
    """The side before of a comparison in words."""
    unit = re.search(r"AT THE BEST LIMIT OF EACH SIDE \((.*)\)", text)
    assert unit is not None
    scale = scale_of(unit[1])
    said = re.search(r"(?s)before: (.*?)\nafter: ", text)
    assert said is not None
    found = of_words(" ".join(said[1].split()), scale)
    labels = {label: (name, key) for key, (name, label) in CHANGED.items()}
    fractions = ("out", "dearer", "belief 0", "next odds", "needs", "stage 2 chance")
    plain = (*fractions, "days", "next days", "suffices", "stage 1 suffices")
    for line in text.split("\n"):
        label, cells = line[:22].strip(), line[22:].split()
        if label in labels and cells and cells[0] != "-":
            name = labels[label][0]
            found[name] = printed(cells[0], 1.0 if name in plain else scale)
        match = re.match(r" +(\d+)(?:  best [a-z ]+?)? +(-?[\d,.]+) ", line)
        if match and "." not in match[1] and line[:22].strip()[:1].isdigit():
            found[f"cost {match[1]}"] = found["to the end"] = printed(match[2], scale)
    return found


# ---- the sweep ---------------------------------------------------------------------------------


def of_sweep(row: Table) -> Reading:
    """A row of a sweep."""
    assert row["error"] == ""
    names = {
        "best_runs": "best limit",
        "days": "days",
        "expected_cost": "expected cost",
        "standard_error": "error",
        "fallback_now": "stopping now",
        "saving": "saving",
        "probability_recovered": "out",
        "to_the_end": "to the end",
    }
    found = {name: exact(row[key]) for key, name in names.items() if row[key] is not None}
    low, high = row["flat_low"], row["flat_high"]
    return found | {"first flat limit": exact(low), "last flat limit": exact(high)}
