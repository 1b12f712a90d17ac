"""Reference state of a job after a full history: what can be done then, and what it comes to.

A history is the list of runs and readings made, each with its outcome. It fixes the clock, the fish
top, the marks and the weights b_k, the chance of fish kind k together with all that was seen:

    b_k     starts as the product of the prior chances of the doubts; the kinds are all combinations
            of what the doubts may be
    outcome o of run r:  b_k' = b_k P(o | k, r);  the chance of the history is B = sum_k b_k
    belief in a doubt    sum of b_k over the kinds in which it holds, over B
    renewed doubt        b_(d,rest)' = c (b_(d,rest) + b_(not d,rest)), and 1 - c of it for not d

Odds of a run for one kind, in this order, the first two settled by `nothing` (`settled`)
    losses age      L = string_lost + hole_lost:  L / (1 - L) x (loss ratio per day) ** days
    recovered p     p / (1 - p) x (ratio per day) ** days x every `ratio_with` whose mark holds
    damaged top     p x damaged_top_factor, the rest to `nothing`; not where the run dresses the top
Days count to the start of the run, before its wait; marks are those at its start, before dressing.

Weather stretches operations, hours / (1 - share), and neither `common` nor a delivery. Contracts
are billed from the finished history by `rentals`; a reading is one more action that no contract
serves. A history that ends d days after the deadline pays cost_once + cost_per_day x d where d > 0;
failed kick-offs and sticking again are events, so that this is never taken on mean hours. The hours
of sticking again move the clock alone: its cost is all that it costs. A sealed source, guns and
batteries are marks of the fish from the start. While the mark `source` holds where fishing ends,
`approval_hours` pass at the spread before any fallback begins, and no weather stretches them.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property
from itertools import product
from math import inf, prod
from typing import TypeAlias

from . import endings, job, rentals, run_log
from .job import HOURS_PER_DAY, Ending, Table
from .rentals import RunMade

LOSSES = ("string_lost", "hole_lost")
ENDS = ("recovered", *LOSSES)
GIVES_WAY = ("part", "prepared", "top_damaged")  # where `nothing` has not enough to give
OUTCOMES = ("recovered", "part", "nothing", "prepared", "top_damaged", *LOSSES)
ON_TIME = 1e-9  # [days] less than this is rounding, not late
STOP = 0  # the action that ends fishing; runs count from 1, readings from the last run on

# Guns bar all that trips to the fish; a source, guns or batteries bar what washes them without the
# written word of their owners.
BARRED_BY = {"overshot": {"live"}, "wall_hook": {"live"}, "washover": {"live", "no_touch"}}

Kind: TypeAlias = tuple[bool, ...]  # whether each doubt holds
Odds: TypeAlias = dict[str, float]
Way: TypeAlias = tuple[float, float, float]  # chance, days, cost of one way a fallback may go


@dataclass(frozen=True)
class History:
    """All that was done and seen, and what follows from it."""

    made: tuple[RunMade, ...]  # runs and readings
    fish_top: float  # [ft]
    marks: frozenset[str]
    weights: dict[Kind, float]

    @property
    def chance(self) -> float:
        """Return the chance of this history, B."""
        return sum(self.weights.values())

    @property
    def ended_by(self) -> str | None:
        """Return the outcome that ended the job, None while fishing may go on."""
        last = self.made[-1].outcome if self.made else "nothing"
        return last if last in ENDS else None


class Rules:
    """A scenario at single numbers: what can be done after a history, and what it comes to."""

    def __init__(self, raw: Table) -> None:
        """Fill in what the file leaves out; `raw` is not changed."""
        self.scenario = scenario = endings.plain(raw)
        self.runs = len(scenario["run"])
        self.minimum = int(scenario["limits"]["minimum_runs"])
        self.doubts = self._doubts()
        weather = scenario.get("weather", {})
        self.stretch = 1.0 / (1.0 - weather.get("fishing", 0.0))
        self.stretch_fallback = 1.0 / (1.0 - weather.get("fallback", 0.0))
        for reading in scenario.get("reading", []):
            table = {**reading, "kind": "reading"}
            table["charge"] = reading.get("cost", 0.0)
            table.setdefault("hours", 0.0)
            scenario["run"].append(table)
        for run in scenario["run"]:
            run["wait"] = run.get("wait", 0.0) * self.stretch
        for run in scenario["run"][: self.runs]:
            run["options"] = [*run.get("options", []), "any run"]
        for contract in scenario.get("rental", []):
            if not contract.get("kinds") and not contract.get("options"):
                contract["options"] = ["any run"]  # every run, but no reading
        self._ways: dict[tuple[object, ...], list[Way]] = {}
        self._work: dict[tuple[int, float], float] = {}

    def _doubts(self) -> dict[str, float]:
        """Return the prior chance of every doubt."""
        doubts = self.scenario.get("doubt", [])
        if doubts:
            return {doubt["name"]: float(doubt["workable"]) for doubt in doubts}
        by_kind = any("workable" in run["odds"] for run in self.scenario["run"])
        return {"workable": float(self.scenario["fishing"]["workable"])} if by_kind else {}

    @cached_property
    def deadline(self) -> float:
        """Return the days from the decision to the deadline."""
        deadline = self.scenario["deadline"]
        if "in_days" in deadline:
            return float(deadline["in_days"])
        decided = run_log.moment(self.scenario["job"]["decided_at"])
        return (run_log.moment(deadline["at"]) - decided) / timedelta(days=1)

    # ---- the state after a history ------------------------------------------------------------

    def beginning(self) -> History:
        """Return the history of a job of which nothing has been done."""
        kinds = product((True, False), repeat=len(self.doubts))
        chances = list(self.doubts.values())
        weights = {
            kind: prod(p if holds else 1.0 - p for holds, p in zip(kind, chances, strict=True))
            for kind in kinds
        }
        fish = self.scenario["fish"]
        return History((), float(fish["top"]), frozenset(held_at_first(fish)), weights)

    def days(self, history: History) -> float:
        """Return the time since the decision [days]."""
        if history.made:
            return history.made[-1].end
        return float(job.common_days(self.scenario))

    def counts(self, history: History) -> Counter[int]:
        """Return how often each run was made, readings left out."""
        return Counter(made.number for made in history.made if made.number <= self.runs)

    def able(self, number: int, history: History) -> bool:
        """Return whether a run or a reading can be made by its marks."""
        action = self.scenario["run"][number - 1]
        needs = {*action.get("needs", []), *(f"made_{k}" for k in action.get("after", []))}
        bars = {*action.get("bars", []), *(["attached"] if "trips" in action else [])}
        bars |= BARRED_BY.get(action.get("kind", ""), set())
        return needs <= history.marks and not bars & history.marks

    def odds(self, number: int, kind: Kind, history: History) -> Odds:
        """Return the odds of what is made next for one kind of fish."""
        action = self.scenario["run"][number - 1]
        doubts = list(self.doubts)
        if number > self.runs:
            holds = kind[doubts.index(action.get("about", doubts[0]))]
            right = action["reliability"]
            if not holds:
                right = action.get("reliability_stubborn", right)
            reads_workable = right if holds else 1.0 - right
            return {"prepared": reads_workable, "nothing": 1.0 - reads_workable}

        table = action["odds"]
        if "workable" in table:
            depends_on = action.get("depends_on", doubts)
            favours = all(kind[doubts.index(name)] for name in depends_on)
            table = table["workable" if favours else "stubborn"]
        odds = {outcome: float(table.get(outcome, 0.0)) for outcome in OUTCOMES}

        fishing, days = self.scenario["fishing"], self.days(history)
        loss = sum(odds[outcome] for outcome in LOSSES)
        grown = times_odds(loss, fishing.get("loss_odds_ratio_per_day", 1.0) ** days)
        for outcome in LOSSES:
            odds[outcome] *= grown / loss if loss > 0.0 else 1.0
        odds = settled(odds)

        ratios = [r for mark, r in action.get("ratio_with", {}).items() if mark in history.marks]
        ratio = prod(ratios) * fishing.get("odds_ratio_per_day", 1.0) ** days
        odds = settled({**odds, "recovered": times_odds(odds["recovered"], ratio)})

        if "damaged_top" in history.marks and not action.get("dresses_top", False):
            kept = fishing["damaged_top_factor"] * odds["recovered"]
            odds["nothing"] += odds["recovered"] - kept
            odds["recovered"] = kept
        return odds

    def after(self, history: History, number: int) -> dict[str, History]:
        """Return the history after each outcome that a run or a reading can have."""
        action = self.scenario["run"][number - 1]
        start, top = self.days(history), history.fish_top
        before = [(made.number, made.start) for made in history.made]
        wait = action["wait"]
        if number <= self.runs:  # a delivery is not stretched, the wait of the file has been
            wait = rentals.waiting(self.scenario, number, start=start, before=before)
        if (number, top) not in self._work:
            hours = float(job.run_hours(self.scenario, {**action, "wait": 0.0}, fish_top=top))
            self._work[number, top] = hours * self.stretch
        work = self._work[number, top]

        odds = {kind: self.odds(number, kind, history) for kind in history.weights}
        following = {}
        for outcome in OUTCOMES:
            weights = {k: b * odds[k].get(outcome, 0.0) for k, b in history.weights.items()}
            if sum(weights.values()) == 0.0:
                continue
            fish_top = top
            if outcome == "part":
                fish_top = float(job.top_after_part(self.scenario, action, fish_top=top))
            following[outcome] = History(
                made=(*history.made, RunMade(number, start, wait, work, outcome)),
                fish_top=fish_top,
                marks=self._marks_after(history.marks, number, outcome),
                weights=self._renewed(weights, number, outcome),
            )
        return following

    def _marks_after(self, marks: frozenset[str], number: int, outcome: str) -> frozenset[str]:
        if number > self.runs:
            return marks
        run, left = self.scenario["run"][number - 1], set(marks)
        if run.get("dresses_top", False):
            left.discard("damaged_top")
        if outcome in ("part", "prepared"):
            left -= set(run.get("takes", []))
            left |= set(run.get("gives", []))
        elif outcome == "top_damaged":
            left.add("damaged_top")
        elif outcome in LOSSES:
            left.discard("attached")
        return frozenset(left | {f"made_{number}"})

    def _renewed(self, weights: dict[Kind, float], number: int, outcome: str) -> dict[Kind, float]:
        if outcome not in ("part", "prepared"):
            return weights
        for name, chance in self.scenario["run"][number - 1].get("renews", {}).items():
            place = list(self.doubts).index(name)
            fresh = {}
            for kind in weights:
                other = (*kind[:place], not kind[place], *kind[place + 1 :])
                share = chance if kind[place] else 1.0 - chance
                fresh[kind] = share * (weights[kind] + weights[other])
            weights = fresh
        return weights

    def belief(self, history: History) -> dict[str, float]:
        """Return the chance that each doubt holds."""
        return {
            name: sum(b for kind, b in history.weights.items() if kind[place]) / history.chance
            for place, name in enumerate(self.doubts)
        }

    # ---- money --------------------------------------------------------------------------------

    def fishing_cost(self, history: History) -> float:
        """Return `common`, the runs and readings and the mobilization, contracts left out."""
        spread, fishing_day = job.spread(self.scenario), job.fishing_day(self.scenario)
        cost, mobilized = float(job.common_cost(self.scenario)), False
        for made in history.made:
            action = self.scenario["run"][made.number - 1]
            share = action.get("fishing_share", 1.0)
            cost += made.hours / HOURS_PER_DAY * float(spread + share * fishing_day)
            cost += action.get("charge", 0.0)
            if made.number <= self.runs and share > 0.0 and not mobilized:
                cost += float(job.fishing_mobilization(self.scenario))
                mobilized = True
        return cost

    def sunk(self, history: History) -> float:
        """Return what is spent when the last run ends; at the start nothing is."""
        if not history.made:
            return 0.0
        contracts = self.scenario.get("rental", [])
        return self.fishing_cost(history) + sum(
            rentals.spent_so_far(self.scenario, contract, made=history.made)
            for contract in contracts
        )

    @cached_property
    def _lateness(self) -> tuple[float, float, float]:
        """Days after which a branch is late, what it then owes at once, and for each day."""
        deadline = self.scenario.get("deadline")
        if deadline is None:
            return inf, 0.0, 0.0
        after = self.deadline - deadline.get("work_after_days", 0.0)
        return after, deadline.get("cost_once", 0.0), deadline.get("cost_per_day", 0.0)

    def late_cost(self, days: float) -> float:
        """Return what a branch owes whose last operation ends after `days` [days]."""
        after, once, per_day = self._lateness
        late = days - after
        return float(once + per_day * late) if late > ON_TIME else 0.0

    def total(self, history: History) -> float:
        """Return the expected total cost where the job ends, or fishing stops, after a history."""
        spent = self.fishing_cost(history) + rentals.bills(self.scenario, made=history.made)
        spread, fishing_day = job.spread(self.scenario), job.fishing_day(self.scenario)
        days, marks, ended_by = self.days(history), history.marks, history.ended_by
        if ended_by == "recovered":
            tail = self.scenario["recovery"]
            its_days = tail["hours"] * self.stretch / HOURS_PER_DAY
            spent += its_days * float(spread + tail["fishing_share"] * fishing_day)
            return spent + tail["charge"] + self.late_cost(days + its_days)

        if "attached" in marks:  # the policy stops; a loss has taken the mark
            parting = self.scenario["parting"]
            hours = parting.get("hours", 0.0) * self.stretch
            spent += hours / HOURS_PER_DAY * float(spread + fishing_day)
            spent += parting.get("charge", 0.0)
            days += hours / HOURS_PER_DAY
            marks = marks - {"attached"}

        if "source" in marks:
            waiting = self.scenario["limits"].get("approval_hours") or 0.0
            spent += waiting / HOURS_PER_DAY * float(spread)
            days += waiting / HOURS_PER_DAY

        ending: Ending = "limit"
        if ended_by is not None:
            ending = "string_lost" if ended_by == "string_lost" else "hole_lost"
        number = history.made[-1].number if ended_by else STOP
        costs = [
            sum(
                chance * (cost + self.late_cost(days + its_days))
                for chance, its_days, cost in self.ways(place, history.fish_top, ending, number)
            )
            for place, fallback in enumerate(self.scenario["fallback"])
            if endings.is_open(fallback, ending)
            and set(fallback.get("needs", [])) <= marks
            and not (set(fallback.get("bars", [])) | _not_drilled_past(fallback)) & marks
        ]
        return spent + min(costs)

    def ways(self, place: int, top: float, ending: Ending, number: int) -> list[Way]:
        """Return every way in which fallback `place` may go: chance, days and cost."""
        known = (place, top, ending, number)
        if known not in self._ways:
            fallback = self.scenario["fallback"][place]
            run = self.scenario["run"][number - 1] if number else None
            self._ways[known] = list(self._all_ways(fallback, top, ending, run))
        return self._ways[known]

    def _all_ways(
        self, fallback: Table, top: float, ending: Ending, run: Table | None
    ) -> Iterator[Way]:
        scenario, slow = self.scenario, self.stretch_fallback
        bill = job.fallback_bill(scenario, fallback, fish_top=top, ending=ending, run=run)
        day = float(job.spread(scenario)) + fallback.get("directional_day", 0.0)
        if "hours" in fallback:
            base, event = float(fallback["hours"]), fallback["trouble"]
            tries = [(1.0, 0.0, 0.0)]
        else:
            event = fallback["stick_again"]
            string_left = run is not None and ending == "string_lost"
            in_hole = top - (run.get("string_length", 0.0) if string_left else 0.0)
            depth = job.kickoff_depth(
                scenario, fallback, fish_top=in_hole, hole_lost=ending == "hole_lost"
            )
            hours = job.sidetrack_hours(scenario, fallback, kickoff_depth=depth)
            base = float(hours.base)
            tries = list(kickoff_tries(fallback, retry_hours=float(hours.retry)))
        sure = float(bill.certain) + (slow - 1.0) * base / HOURS_PER_DAY * day
        for chance, more_hours, charges in tries:
            days = (base + more_hours) * slow / HOURS_PER_DAY
            cost = sure + more_hours * slow / HOURS_PER_DAY * day + charges
            trouble = float(event["chance"])
            yield chance * (1.0 - trouble), days, cost
            if trouble > 0.0:
                more_days = event.get("hours", 0.0) * slow / HOURS_PER_DAY
                yield chance * trouble, days + more_days, cost + event["cost"]


def _not_drilled_past(fallback: Table) -> set[str]:
    """Return the marks with which a fallback does not drill past the fish."""
    return {"source", "live", "no_touch"} if fallback.get("kind") == "drill_past" else set()


def held_at_first(fish: Table) -> set[str]:
    """Return the marks that hold before anything is done, with those of what is in the fish."""
    marks = set(fish.get("marks", []))
    if fish.get("sealed_source"):
        marks |= {"source"}
    if fish.get("explosives") or fish.get("what") == "guns":
        marks |= {"live"}
    dangerous = marks & {"source", "live"} or fish.get("lithium_batteries")
    if dangerous and not fish.get("written_consent"):
        marks |= {"no_touch"}
    return marks


def times_odds(chance: float, ratio: float) -> float:
    """Return the chance whose p / (1 - p) is `ratio` times that of `chance`."""
    return chance * ratio / (1.0 - chance + chance * ratio)


def settled(odds: Odds) -> Odds:
    """Return odds that sum to 1 again: `nothing` gives or takes, then those that give way.

    If they have too little as well, they are gone and all that is left is divided by its sum.
    """
    left = dict(odds)
    missing = sum(left.values()) - 1.0
    given = min(missing, left["nothing"])
    left["nothing"] -= given
    missing -= given
    available = sum(left[outcome] for outcome in GIVES_WAY)
    if missing > 0.0 and available > 0.0:
        kept = 1.0 - min(missing, available) / available
        left |= {outcome: left[outcome] * kept for outcome in GIVES_WAY}
    total = sum(left.values())
    return {outcome: chance / max(total, 1.0) for outcome, chance in left.items()}


def kickoff_tries(fallback: Table, *, retry_hours: float) -> Iterator[Way]:
    """Yield chance, hours and charges of what failed kick-offs add, by the number that fail."""
    whipstock = fallback.get("whipstock")
    failed, hours, charges, arriving = 0, 0.0, 0.0, 1.0
    while True:
        on_whipstock = whipstock is not None and failed >= whipstock["after"]
        fails = whipstock["failure"] if on_whipstock else fallback["kickoff_failure"]
        if arriving * fails < endings.TAIL:
            yield arriving, hours, charges
            return
        yield arriving * (1.0 - fails), hours, charges
        arriving *= fails
        failed += 1
        if whipstock is not None and failed >= whipstock["after"]:
            hours += whipstock["hours"]
            charges += whipstock["cost"]
        else:
            hours += retry_hours
            charges += fallback.get("plug_cost", 0.0)
