"""`odds_from`: odds of past jobs put into a scenario, or blended with what it states.

Done on the raw document, after the overrides and before any check. For each outcome of a run
    p = (w_j p_j + w_r p_r) / (w_j + w_r),   weight = w_j + w_r
with p_j, w_j the judgement of the scenario and p_r, w_r the records of that kind of run.

    no odds            the records, by kind of fish where the file has those; older ones may not
    odds with weight   blended; one table with the records' table of all fish, tables by kind of
                       fish with the records' tables by kind of fish
    tables by kind of  both chances of recovery are moved by one odds ratio until their mean, at
    fish, records in   the belief before that run if all before it failed, is the blend of that
    one table          mean with the records; the other outcomes keep their proportions, and each
                       table gains of w_r the share of its kind of fish
    odds, no weight    stated as exact: kept, and said
`fishing.workable`, or `workable` of the only [[doubt]], is taken if left out, blended if {mean,
weight}, else kept; of several doubts each states its own. The factor for each day elapsed is
taken if left out and a run rests on the records, else kept.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from econ.scenario.doubts import MOST_DOUBTS, WORKABLE, Doubt, favourable
from econ.scenario.evidence import Evidence, PastJobs
from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.odds_file import Known, OddsFile, RecordedKind, RecordedOdds, read_odds_file
from econ.scenario.program import OUTCOMES, ROUNDING, RunKind
from econ.scenario.scenario import Scenario

Table = dict[str, Any]
EXACT = "it has no weight, so it is exact; give it a weight to let them count"
TWO = ("workable", "stubborn")


@dataclass
class Resolved:
    """A raw document without need of `odds_from`, and what was done to it."""

    raw: Table
    faults: list[Fault] = field(default_factory=list)
    paths: list[tuple[str | int, ...]] = field(default_factory=list)  # of what was asked for
    runs: dict[int, tuple[Evidence, ...]] = field(default_factory=dict)
    fishing: list[Evidence] = field(default_factory=list)
    doubts: dict[int, Evidence] = field(default_factory=dict)
    past: PastJobs | None = None


def resolve(raw: Table, folder: str | os.PathLike[str]) -> Resolved:
    """The document with the odds of its `odds_from` in it; as it is where it names none."""
    name = raw.get("odds_from")
    runs = raw.get("run", [])
    if not isinstance(name, str) or not name or not isinstance(runs, list):
        return Resolved(raw)
    resolved = Resolved({**raw, "run": list(runs)})
    try:
        file = read_odds_file(Path(folder) / name)
    except ScenarioError as error:
        resolved.faults += error.faults
        for place, run in enumerate(runs):  # what is missing because of the file is no fault
            if isinstance(run, dict) and "odds" not in run:
                resolved.raw["run"][place] = {**run, "odds": {"nothing": 1.0}}
        return resolved
    kinds = tuple((kind, each.runs) for kind, each in file.kind.items())
    resolved.past = PastJobs(
        file=name,
        source=file.source,
        jobs=file.jobs,
        runs=file.runs,
        kinds=kinds,
        seen=file.seen,
        rows_lost=file.rows_not_taken,
        jobs_lost=file.jobs_not_taken,
        prior_weight=None if file.prior is None else file.prior.weight,
        prior_origin="" if file.prior is None else file.prior.origin,
    )
    _Blend(resolved, file, name).all()
    return resolved


def attached(scenario: Scenario, resolved: Resolved) -> Scenario:
    """A checked scenario whose values know what past jobs had to say on them."""
    if resolved.past is None:
        return scenario
    runs = [
        run.with_evidence(resolved.runs.get(place, ())) for place, run in enumerate(scenario.run)
    ]
    fishing = scenario.fishing.with_evidence(tuple(resolved.fishing))
    doubts = [
        doubt.with_evidence((resolved.doubts[place],)) if place in resolved.doubts else doubt
        for place, doubt in enumerate(scenario.doubt)
    ]
    found = scenario.model_copy(update={"run": runs, "fishing": fishing, "doubt": doubts})
    return found.with_past_jobs(resolved.past)


class _Blend:
    """One document and one file of odds."""

    def __init__(self, resolved: Resolved, file: OddsFile, name: str) -> None:
        self.resolved = resolved
        self.raw = resolved.raw
        self.file = file
        self.name = name
        self.known = {str(kind): each for kind, each in file.kind.items()}

    def all(self) -> None:
        """Fill and blend all that the file has something to say on."""
        names, beliefs = self._prior()
        for place, run in enumerate(self.raw["run"]):
            if isinstance(run, dict):
                good = _in_favour(names, run)
                belief = sum(chance for chance, holds in zip(beliefs, good, strict=True) if holds)
                self._run(place, run, belief)
                odds = run.get("odds", self.raw["run"][place].get("odds"))
                beliefs = _after_failure(beliefs, good, odds)
        self._fishing()

    def _prior(self) -> tuple[list[Any], list[float]]:
        """Names of the doubts, and the chance of each kind of fish (`econ.scenario.doubts`)."""
        doubts, fishing = _doubts(self.raw), self.raw.get("fishing")
        one = self.file.workable.mean if self.file.workable is not None else 0.5
        if not doubts:
            stated = fishing.get("workable") if isinstance(fishing, dict) else None
            doubts = [{"name": WORKABLE, "workable": stated}]
        chances = [1.0]
        for doubt in doubts:
            middle = _middle(doubt.get("workable"))
            if middle is None:
                middle = one if len(doubts) == 1 else 0.5
            holds = min(1.0, max(0.0, middle))
            chances = [chance * share for share in (holds, 1 - holds) for chance in chances]
        return [doubt.get("name") for doubt in doubts], chances

    def _run(self, place: int, run: Table, belief: float) -> None:
        kind: Any = run.get("kind", "other")
        known = self.known.get(kind) if isinstance(kind, str) else None
        self.resolved.paths.append(("run", place))
        if "odds" not in run:
            if known is not None:
                self._put(place, run, _all_of(known), self._only(known))
            elif kind in _WORDS:
                self._missing(place, run, str(kind))
            return
        odds = run["odds"]
        if not isinstance(odds, dict):
            return
        by_kind = bool(set(TWO) & set(odds))
        if known is None:
            why = f"{self.file.source} has no run of kind {str(kind)[:40]}"
            self._keep(place, ["odds"], why)
        elif not by_kind:
            self._one_table(place, run, odds, known)
        elif known.workable is not None and known.stubborn is not None:
            self._two_tables(place, run, odds, known)
        else:
            self._moved(place, run, odds, known, belief)

    def _missing(self, place: int, run: Table, kind: str) -> None:
        self.resolved.faults.append(
            Fault(
                f"no odds, and {self.name} has none for kind {kind}",
                f"odds of this run, or a kind in the records: {', '.join(self.known) or 'none'}",
                "add odds = { ... }, by judgement",
                ("run", place, "odds"),
            )
        )
        self.raw["run"][place] = {**run, "odds": {"nothing": 1.0}}  # one fault is enough

    def _put(self, place: int, run: Table, odds: Table, evidence: tuple[Evidence, ...]) -> None:
        self.raw["run"][place] = {**run, "odds": odds}
        self.resolved.runs[place] = evidence

    def _keep(self, place: int, keys: list[str], why: str) -> None:
        self.resolved.runs[place] = tuple(
            Evidence(key, "kept", self.name, self.file.source, why=why) for key in keys
        )

    def _only(self, known: RecordedKind) -> tuple[Evidence, ...]:
        if known.workable is None or known.stubborn is None:
            return (self._evidence("odds", known, known.odds, None),)
        return tuple(
            self._evidence(f"odds.{name}", known, getattr(known, name), None) for name in TWO
        )

    def _evidence(
        self, of: str, known: RecordedKind, odds: RecordedOdds, judged: float | None
    ) -> Evidence:
        return Evidence(
            of,
            "records" if judged is None else "blended",
            self.name,
            self.file.source,
            *(known.runs, known.jobs),
            *(odds.low, odds.high),
            *(judged, odds.weight),
        )

    def _one_table(self, place: int, run: Table, odds: Table, known: RecordedKind) -> None:
        weight = odds.get("weight")
        if weight is None:
            self._keep(place, ["odds"], EXACT)
        elif _sound(odds):
            self._put(
                *(place, run, _blended(odds, known.odds)),
                (self._evidence("odds", known, known.odds, weight),),
            )

    def _two_tables(self, place: int, run: Table, odds: Table, known: RecordedKind) -> None:
        mixed, evidence = dict(odds), []
        for name in TWO:
            stated, found = odds.get(name), getattr(known, name)
            if isinstance(stated, dict) and stated.get("weight") is None:
                kept = Evidence(f"odds.{name}", "kept", self.name, self.file.source, why=EXACT)
                evidence.append(kept)
            elif isinstance(stated, dict) and _sound(stated):
                mixed[name] = _blended(stated, found)
                evidence.append(self._evidence(f"odds.{name}", known, found, stated["weight"]))
        self._put(place, run, mixed, tuple(evidence))

    def _moved(
        self, place: int, run: Table, odds: Table, known: RecordedKind, belief: float
    ) -> None:
        good, bad = odds.get("workable"), odds.get("stubborn")
        if not (isinstance(good, dict) and isinstance(bad, dict)):
            return
        if good.get("weight") is None or bad.get("weight") is None:
            self._keep(place, ["odds"], EXACT)
            return
        if not (_sound(good) and _sound(bad)):
            return
        shares = belief, 1 - belief
        p, q = (float(each.get("recovered", 0.0)) for each in (good, bad))
        judged = shares[0] * good["weight"] + shares[1] * bad["weight"]
        mean = shares[0] * p + shares[1] * q
        whole = judged + known.odds.weight
        goal = (judged * mean + known.odds.weight * known.odds.recovered) / whole
        ratio = _odds_ratio(p, q, belief, goal)
        if ratio is None:
            self._keep(place, ["odds"], "odds of 0 or 1 cannot be moved")
            return
        mixed = {
            name: _with_recovered(each, _times(chance, ratio), share * known.odds.weight)
            for name, each, chance, share in zip(TWO, (good, bad), (p, q), shares, strict=True)
        }
        self._put(
            *(place, run, {**odds, **mixed}), (self._evidence("odds", known, known.odds, judged),)
        )

    def _fishing(self) -> None:
        stated = self.raw.get("fishing", {})
        if not isinstance(stated, dict):
            return
        fishing = dict(stated)
        tables = [run.get("odds") for run in self.raw["run"] if isinstance(run, dict)]
        has_kinds = any(isinstance(each, dict) and set(TWO) & set(each) for each in tables)
        if self.file.workable is not None and has_kinds:
            self._chance(fishing, self.file.workable)
        rests = any(e.how != "kept" for each in self.resolved.runs.values() for e in each)
        if self.file.odds_ratio_per_day is not None and rests:
            self._per_day(fishing)
        if fishing != stated:
            self.raw["fishing"] = fishing
        self.resolved.paths.append(("fishing",))

    def _chance(self, fishing: Table, known: Known) -> None:
        """The chance of the one doubt, which stands under [fishing] or in its own table."""
        doubts = _doubts(self.raw)
        if not doubts:
            if not self.raw.get("doubt"):  # else it has faults, which the check of it tells
                self.resolved.fishing.append(self._workable(fishing, known))
            return
        self.raw["doubt"] = [dict(doubt) for doubt in doubts]
        for place, doubt in enumerate(self.raw["doubt"]):
            if len(doubts) == 1:
                evidence = self._workable(doubt, known)
            else:
                why = "of several doubts each states its own chance"
                evidence = Evidence("workable", "kept", self.name, self.file.source, why=why)
            self.resolved.doubts[place] = evidence
            self.resolved.paths.append(("doubt", place))

    def _workable(self, section: Table, known: Known) -> Evidence:
        """Take or blend the chance of a section."""
        stated = section.get("workable")
        jobs, ends = (self.file.jobs,) * 2, (known.low, known.high)
        of, names = "workable", (self.name, self.file.source)
        if stated is None:
            section[of] = {"mean": known.mean, "weight": known.weight}
            return Evidence(of, "records", *names, *jobs, *ends, None, known.weight)
        if (
            isinstance(stated, dict)
            and set(stated) == {"mean", "weight"}
            and all(map(_is_number, stated.values()))
            and 0 <= stated["mean"] <= 1
            and stated["weight"] > 0
        ):
            weight = stated["weight"] + known.weight
            mean = (stated["mean"] * stated["weight"] + known.mean * known.weight) / weight
            section[of] = {"mean": mean, "weight": weight}
            return Evidence(of, "blended", *names, *jobs, *ends, stated["weight"], known.weight)
        why = "it is not stated as { mean, weight }; state it so to let them count"
        return Evidence(of, "kept", *names, why=why)

    def _per_day(self, fishing: Table) -> None:
        known, of = self.file.odds_ratio_per_day, "odds_ratio_per_day"
        assert known is not None
        names = self.name, self.file.source
        if of not in fishing:
            fishing[of] = {"median": known.median, "factor": known.factor}
            jobs, ends = (known.jobs,) * 2, (known.low, known.high)
            evidence = Evidence(of, "records", *names, *jobs, *ends)
        else:
            evidence = Evidence(of, "kept", *names, why="leave it out to take that of past jobs")
        self.resolved.fishing.append(evidence)


_WORDS = RunKind.__args__  # type: ignore[attr-defined]


def _all_of(known: RecordedKind) -> Table:
    if known.workable is None or known.stubborn is None:
        return _plain(known.odds)
    return {name: _plain(getattr(known, name)) for name in TWO}


def _plain(odds: RecordedOdds) -> Table:
    return {name: getattr(odds, name) for name in (*OUTCOMES, "weight")}


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _sound(odds: Table) -> bool:
    """Whether a table of odds will pass its check; else it is left for the check to refuse."""
    if set(odds) - {*OUTCOMES, "weight"} or not all(map(_is_number, odds.values())):
        return False
    chances = [odds.get(name, 0.0) for name in OUTCOMES]
    return bool(
        all(0 <= each <= 1 for each in chances)
        and abs(sum(chances) - 1) <= ROUNDING
        and 0 < odds["weight"] < math.inf
    )


def _blended(stated: Table, known: RecordedOdds) -> Table:
    judged = stated["weight"]
    whole = judged + known.weight
    mixed: Table = {
        name: (judged * stated.get(name, 0.0) + known.weight * getattr(known, name)) / whole
        for name in OUTCOMES
    }
    return {**mixed, "weight": whole}


def _with_recovered(odds: Table, recovered: float, more: float) -> Table:
    """Odds with another chance of recovery, the others in proportion, worth `more` runs more."""
    before = odds.get("recovered", 0.0)
    keep = (1 - recovered) / (1 - before) if before < 1 else 0.0
    rest = {name: odds.get(name, 0.0) * keep for name in OUTCOMES[1:]}
    return {"recovered": recovered, **rest, "weight": odds["weight"] + more}


def _times(chance: float, ratio: float) -> float:
    """A chance whose odds p/(1 - p) are multiplied."""
    return chance * ratio / (1 - chance + chance * ratio)


def _odds_ratio(p: float, q: float, belief: float, goal: float) -> float | None:
    """Odds ratio that brings the mean of p and q to `goal`, by halving its logarithm."""
    free = [(share, each) for share, each in ((belief, p), (1 - belief, q)) if 0 < each < 1]
    fixed = sum(share for share, each in ((belief, p), (1 - belief, q)) if each == 1)
    if not fixed < goal < fixed + sum(share for share, _ in free):
        return None
    low, high = -40.0, 40.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        ratio = math.exp(middle)
        if fixed + sum(share * _times(each, ratio) for share, each in free) < goal:
            low = middle
        else:
            high = middle
    return math.exp(0.5 * (low + high))


def _doubts(raw: Table) -> list[Table]:
    """The tables [[doubt]] of a document, none where they are no list of so many tables."""
    doubts = raw.get("doubt", [])
    sound = isinstance(doubts, list) and all(isinstance(doubt, dict) for doubt in doubts)
    return doubts if sound and len(doubts) <= MOST_DOUBTS else []


def _in_favour(names: Sequence[Any], run: Table) -> list[bool]:
    """By kind of fish: whether all doubts that a run depends on are in favour."""
    depends = run.get("depends_on")
    depends = depends if isinstance(depends, list) else names
    doubts = [Doubt.model_construct(name=name) for name in names]
    return favourable(doubts, depends)


def _after_failure(beliefs: list[float], good: list[bool], odds: Any) -> list[float]:
    """Chances of the kinds of fish after a run with these odds brought it not; good: the kinds
    on which its workable odds hold."""
    if not isinstance(odds, dict) or not all(isinstance(odds.get(name), dict) for name in TWO):
        return beliefs
    p, q = (odds[name].get("recovered", 0.0) for name in TWO)
    if not (_is_number(p) and _is_number(q) and 0 <= p <= 1 and 0 <= q <= 1):
        return beliefs
    missed = [
        chance * (1 - p if holds else 1 - q) for chance, holds in zip(beliefs, good, strict=True)
    ]
    total = sum(missed)
    return [each / total for each in missed] if total > 0 else beliefs


def _middle(amount: Any) -> float | None:
    """About the mean of an amount as written; None where it is none."""
    if _is_number(amount):
        return float(amount)
    if not isinstance(amount, dict):
        return None
    for name in ("mean", "p50", "median", "likely"):
        if _is_number(amount.get(name)):
            return float(amount[name])
    if _is_number(amount.get("low")) and _is_number(amount.get("high")):
        return float(amount["low"] + amount["high"]) / 2
    return None
