"""Reference outcome tree: every way the job can go, with every input at a plain number.

A kind of fish is chosen by its prior chance w, then each run ends in one of six ways:

    recovered    pay the tail S, end          part         fish top moves down, go on
    nothing      go on                        top_damaged  later `recovered` odds are cut, go on
    string_lost  fallback, end                hole_lost    fallback, end

Odds of a run for one kind, p for `recovered` and o for any other outcome:
    1. elapsed time   p' / (1 - p') = p / (1 - p) x ratio ** days at the start of the run,
                      nothing' = nothing + p - p'; the others do not move (`job.settled`)
    2. damaged top    p'' = factor x p',  nothing'' = nothing' + (1 - factor) p',
                      for a run that does not dress the top itself

One run then stop, with F the fallback from the present top and C the run without mobilization,
breaks even at
    p* = [C + p_left (F_left - F) + p_lost (F_lost - F) - p_part (F - F_part)] / (F - S)

The best rule by state is worked back over complete histories of outcomes; the belief in each kind
follows Bayes' rule, b_k' = b_k L_k / sum_j b_j L_j with L_k the odds that kind k gave to what was
seen. It shares no state and no weights with the tree of the limits.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from . import job
from .job import OUTCOMES, Ending, FallbackBill, Table

GOES_ON = ("part", "nothing", "top_damaged")
RETRY_TAIL = 1e-12  # chance below which further kick-off retries are gathered in the last one

History = tuple[str, ...]
Odds = dict[str, float]


@dataclass(frozen=True)
class Position:
    """Where the job stands between two runs."""

    runs: int
    fish_top: float  # [ft]
    damaged: bool
    days: float  # elapsed [days]
    spent: float  # from now, on this branch [currency]


@dataclass(frozen=True)
class Leaf:
    """One end of the tree; `bill` is None where the fish was recovered."""

    probability: float
    spent: float  # all but the fallback [currency]
    bill: FallbackBill | None

    @property
    def expected_cost(self) -> float:
        """Return the mean total cost at this end [currency]."""
        return self.spent + (float(self.bill.expected) if self.bill else 0.0)


@dataclass(frozen=True)
class EndPoint:
    """A total cost that can come about, and how likely it is."""

    cost: float  # [currency]
    probability: float
    recovered: bool


@dataclass(frozen=True)
class PolicyResult:
    """What a stopping policy gives."""

    expected_cost: float  # [currency]
    probability_recovered: float
    end_points: tuple[EndPoint, ...]

    def percentile(self, share: float) -> float:
        """Return the least cost that is not exceeded with chance `share` [currency]."""
        reached = 0.0
        for point in sorted(self.end_points, key=lambda point: point.cost):
            reached += point.probability
            if reached >= share - 1e-12:
                return point.cost
        raise ValueError(f"end points reach only {reached}, less than {share}")


def kinds_of_fish(scenario: Table) -> dict[str, float]:
    """Return the prior chance of each kind; a scenario without kinds has one, "workable"."""
    by_kind = any("workable" in run["odds"] for run in scenario.get("run", []))
    if not by_kind:
        return {"workable": 1.0}
    workable = float(scenario["fishing"]["workable"])
    return {"workable": workable, "stubborn": 1.0 - workable}


def run_odds(scenario: Table, run: Table, kind: str, *, position: Position) -> Odds:
    """Return the odds of all six outcomes of `run` for one kind of fish at `position`."""
    table = run["odds"].get(kind, run["odds"])
    odds = {outcome: float(table.get(outcome, 0.0)) for outcome in OUTCOMES}
    fishing = scenario.get("fishing", {})

    stated = odds["recovered"]
    if 0.0 < stated < 1.0:
        ratio = fishing.get("odds_ratio_per_day", 1.0) ** position.days
        later = stated * ratio / (1.0 - stated + stated * ratio)
        odds = job.settled({**odds, "recovered": later})

    if position.damaged and not run.get("dresses_top", False):
        kept = fishing.get("damaged_top_factor", 0.6) * odds["recovered"]
        odds["nothing"] += odds["recovered"] - kept
        odds["recovered"] = kept
    return odds


def start(scenario: Table) -> Position:
    """Return the position before the first run."""
    job.check_covered(scenario)
    return Position(
        runs=0,
        fish_top=float(scenario["fish"]["top"]),
        damaged=False,
        days=float(job.common_days(scenario)),
        spent=float(job.common_cost(scenario)),
    )


def make_run(scenario: Table, run: Table, *, position: Position) -> Position:
    """Return the position with the time and money of `run` spent, its outcome not yet known."""
    hours = float(job.run_hours(scenario, run, fish_top=position.fish_top))
    cost = float(job.run_cost(scenario, run, fish_top=position.fish_top))
    if position.runs == 0:
        cost += float(job.fishing_mobilization(scenario))
    return replace(
        position,
        runs=position.runs + 1,
        days=position.days + hours / job.HOURS_PER_DAY,
        spent=position.spent + cost,
    )


def go_on(scenario: Table, run: Table, outcome: str, *, position: Position) -> Position:
    """Return the position after an outcome that does not end the job."""
    top = position.fish_top
    if outcome == "part":
        top = float(job.top_after_part(scenario, run, fish_top=top))
    damaged = position.damaged and not run.get("dresses_top", False)
    return replace(position, fish_top=top, damaged=damaged or outcome == "top_damaged")


def cheapest_fallback(
    scenario: Table, *, fish_top: float, ending: Ending, run: Table | None = None
) -> FallbackBill:
    """Return the bill of the fallback with the least expected cost in this state."""
    bills = [
        job.fallback_bill(scenario, fallback, fish_top=fish_top, ending=ending, run=run)
        for fallback in scenario["fallback"]
    ]
    return min(bills, key=lambda bill: float(bill.expected))


def mean_fallback(
    scenario: Table, *, fish_top: float, ending: Ending, run: Table | None = None
) -> float:
    """Return the expected cost of the cheapest fallback in this state [currency]."""
    return float(cheapest_fallback(scenario, fish_top=fish_top, ending=ending, run=run).expected)


def minimum_runs(scenario: Table) -> int:
    """Return the runs that must be made before any stop."""
    return int(scenario.get("limits", {}).get("minimum_runs", 0))


def leaves(
    scenario: Table,
    kind: str,
    *,
    position: Position,
    probability: float,
    limit_runs: int | None,
    limit_days: float | None,
) -> Iterator[Leaf]:
    """Yield every end below `position`; a limit that is None does not bind.

    A run is started only while fewer than `limit_runs` are made and less than `limit_days` [days]
    have passed, except that the minimum of the scenario is always made.
    """
    runs = scenario.get("run", [])
    within_runs = limit_runs is None or position.runs < limit_runs
    within_days = limit_days is None or position.days < limit_days
    required = position.runs < minimum_runs(scenario)
    if position.runs == len(runs) or not (required or (within_runs and within_days)):
        bill = cheapest_fallback(scenario, fish_top=position.fish_top, ending="limit")
        yield Leaf(probability, position.spent, bill)
        return

    run = runs[position.runs]
    odds = run_odds(scenario, run, kind, position=position)
    made = make_run(scenario, run, position=position)
    for outcome, chance in odds.items():
        if chance == 0.0:
            continue
        if outcome == "recovered":
            tail = float(job.recovery_cost(scenario))
            yield Leaf(probability * chance, made.spent + tail, None)
        elif outcome not in GOES_ON:
            ending: Ending = "string_lost" if outcome == "string_lost" else "hole_lost"
            bill = cheapest_fallback(scenario, fish_top=made.fish_top, ending=ending, run=run)
            yield Leaf(probability * chance, made.spent, bill)
        else:
            yield from leaves(
                scenario,
                kind,
                position=go_on(scenario, run, outcome, position=made),
                probability=probability * chance,
                limit_runs=limit_runs,
                limit_days=limit_days,
            )


def spread_out(leaf: Leaf) -> Iterator[EndPoint]:
    """Yield the end points of a leaf, kick-off retries and sticking again as events."""
    bill = leaf.bill
    if bill is None:
        yield EndPoint(leaf.spent, leaf.probability, True)
        return
    failure = float(bill.kickoff_failure)
    retries = 0
    not_yet = 1.0  # chance that at least this many retries are needed
    while not_yet > 0.0:
        last = not_yet * failure < RETRY_TAIL
        chance = not_yet if last else not_yet * (1.0 - failure)
        cost = leaf.spent + float(bill.certain) + retries * float(bill.per_retry)
        stick = float(bill.stick_chance)
        yield EndPoint(cost, leaf.probability * chance * (1.0 - stick), False)
        if stick > 0.0:
            stuck_cost = cost + float(bill.stick_cost)
            yield EndPoint(stuck_cost, leaf.probability * chance * stick, False)
        not_yet = 0.0 if last else not_yet * failure
        retries += 1


def limit(
    scenario: Table, *, limit_runs: int | None = None, limit_days: float | None = None
) -> PolicyResult:
    """Return what stopping after `limit_runs` runs or starting none after `limit_days` gives."""
    ends = [
        leaf
        for kind, prior in kinds_of_fish(scenario).items()
        for leaf in leaves(
            scenario,
            kind,
            position=start(scenario),
            probability=prior,
            limit_runs=limit_runs,
            limit_days=limit_days,
        )
    ]
    return PolicyResult(
        expected_cost=sum(leaf.probability * leaf.expected_cost for leaf in ends),
        probability_recovered=sum(leaf.probability for leaf in ends if leaf.bill is None),
        end_points=tuple(point for leaf in ends for point in spread_out(leaf)),
    )


def by_runs(scenario: Table) -> list[PolicyResult]:
    """Return the result of every limit from 0 runs to all of them."""
    return [limit(scenario, limit_runs=n) for n in range(len(scenario.get("run", [])) + 1)]


# ---- belief, and one run at a time ------------------------------------------------------------


def bayes(belief: dict[str, float], likelihood: dict[str, float]) -> dict[str, float]:
    """Return the belief after seeing what each kind gave the chance `likelihood`."""
    joint = {kind: belief[kind] * likelihood[kind] for kind in belief}
    seen = sum(joint.values())
    return {kind: chance / seen for kind, chance in joint.items()}


def mixed_odds(odds_by_kind: dict[str, Odds], belief: dict[str, float]) -> Odds:
    """Return the odds that the crew sees, not knowing the kind."""
    return {
        outcome: sum(belief[kind] * odds[outcome] for kind, odds in odds_by_kind.items())
        for outcome in OUTCOMES
    }


@dataclass(frozen=True)
class RunOnPath:
    """A run as it stands when every run before it ended `nothing`."""

    hours: float  # [h]
    days_after: float  # elapsed when it ends [days]
    cost: float  # without mobilization [currency]
    workable_before: float
    odds: Odds
    break_even: float
    workable_after_nothing: float


def nothing_path(scenario: Table) -> list[RunOnPath]:
    """Return each run along the path on which every run ends `nothing`."""
    path = []
    belief = kinds_of_fish(scenario)
    position = start(scenario)
    tail = float(job.recovery_cost(scenario))
    for run in scenario.get("run", []):
        by_kind = {k: run_odds(scenario, run, k, position=position) for k in belief}
        odds = mixed_odds(by_kind, belief)
        top = position.fish_top
        part_top = float(job.top_after_part(scenario, run, fish_top=top))
        now = mean_fallback(scenario, fish_top=top, ending="limit")
        part = mean_fallback(scenario, fish_top=part_top, ending="limit")
        left = mean_fallback(scenario, fish_top=top, ending="string_lost", run=run)
        lost = mean_fallback(scenario, fish_top=top, ending="hole_lost", run=run)
        cost = float(job.run_cost(scenario, run, fish_top=top))
        to_earn = (
            cost
            + odds["string_lost"] * (left - now)
            + odds["hole_lost"] * (lost - now)
            - odds["part"] * (now - part)
        )
        made = make_run(scenario, run, position=position)
        after = bayes(belief, {k: by_kind[k]["nothing"] for k in belief})
        path.append(
            RunOnPath(
                hours=float(job.run_hours(scenario, run, fish_top=top)),
                days_after=made.days,
                cost=cost,
                workable_before=belief["workable"],
                odds=odds,
                break_even=to_earn / (now - tail),
                workable_after_nothing=after["workable"],
            )
        )
        belief = after
        position = go_on(scenario, run, "nothing", position=made)
    return path


# ---- best rule by state -----------------------------------------------------------------------


@dataclass(frozen=True)
class Choice:
    """The best action after one history; costs are totals from now, money on the way included."""

    action: Literal["run", "stop"]
    workable: float  # belief
    expected_cost: float  # of the best action [currency]
    stop_cost: float  # [currency]
    run_cost: float | None  # of making the next run, then acting best; None where none is left


def best_rule(scenario: Table) -> dict[History, Choice]:
    """Return the best choice after every history that can come about, the empty one first."""
    choices: dict[History, Choice] = {}
    runs = scenario.get("run", [])
    tail = float(job.recovery_cost(scenario))

    def cost_of_best(history: History, position: Position, belief: dict[str, float]) -> float:
        top = position.fish_top
        stop = position.spent + mean_fallback(scenario, fish_top=top, ending="limit")
        if position.runs == len(runs):
            choices[history] = Choice("stop", belief["workable"], stop, stop, None)
            return stop

        run = runs[position.runs]
        by_kind = {k: run_odds(scenario, run, k, position=position) for k in belief}
        odds = mixed_odds(by_kind, belief)
        made = make_run(scenario, run, position=position)
        left = mean_fallback(scenario, fish_top=top, ending="string_lost", run=run)
        lost = mean_fallback(scenario, fish_top=top, ending="hole_lost", run=run)
        value = (
            odds["recovered"] * (made.spent + tail)
            + odds["string_lost"] * (made.spent + left)
            + odds["hole_lost"] * (made.spent + lost)
        )
        for outcome in GOES_ON:
            if odds[outcome] > 0.0:
                value += odds[outcome] * cost_of_best(
                    (*history, outcome),
                    go_on(scenario, run, outcome, position=made),
                    bayes(belief, {k: by_kind[k][outcome] for k in belief}),
                )
        required = position.runs < minimum_runs(scenario)
        runs_on = required or value < stop
        best = value if runs_on else stop
        choices[history] = Choice(
            "run" if runs_on else "stop", belief["workable"], best, stop, value
        )
        return best

    cost_of_best((), start(scenario), kinds_of_fish(scenario))
    return dict(sorted(choices.items(), key=lambda item: len(item[0])))
