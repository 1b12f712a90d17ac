"""Reference rental contracts, and an outcome tree that pays them; every amount a plain number.

Symbols of one contract on one path, days counted from the decision
    t_c   when it is called out: start of run k before its wait (`call_out = k`), 0
          (`call_out = 0`), or start of the first run made that it serves (left out);
          -held when held already
    T     end of fishing: end of the last run made, end of `common` where none is
    w     days of the runs that it serves, their waiting included
    s     standby days, T - t_c - w; of a contract held already T - w, the days from now on

Bill  mobilization + max(day x minimum, day x w + standby day x s)
      + redress x runs served + per foot x length washed by them
      + replacement where a run that it serves loses the string, x share where it loses the hole
      held already: no mobilization, minimum = max(0, minimum days - held)
Wait  of a run: max(its own wait, hours from its start to t_c + delivery of each of its contracts)
Never called where no run of the program is served, where run k is not made, or where no run at all
is made; a contract held already is owed on every path.
A tool is at hand no later than the first run that uses it: were run k to come after that run, or
never, the contract is called out at the start of that run.

After a log the days on contract are spent at their rates, and what they came to counts toward the
minimum. With w', s' the days worked and stood by so far and w, s those to come, what is left to pay
for time is
    max(day x minimum, day x (w' + w) + standby day x (s' + s)) - (day x w' + standby day x s')
and the minimum is owed until it is worked or stood off.

Odds  L = string_lost + hole_lost grows with time first, L' = L z / (1 - L + L z) with
      z = ratio ** days; the two keep their proportion, and `nothing` gives what they take
      (`job.settled`). Then as in `outcome_tree`.

Nothing is carried along the tree: each history is walked again from its start, run by run, and its
contracts are billed from the finished list of runs.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from . import endings, job, outcome_tree
from .endings import Points
from .job import OUTCOMES, Ending, Table
from .outcome_tree import GOES_ON, Odds, Position

LOSSES = ("string_lost", "hole_lost")
UNFINISHED = "unfinished"  # of a run in a log: its time and money, and nothing else


# ---- contracts --------------------------------------------------------------------------------


@dataclass(frozen=True)
class RunMade:
    """A run that has been made."""

    number: int  # in the program, from 1
    start: float  # before its wait, since the decision [days]
    wait: float  # [h]
    work: float  # all hours after the wait [h]
    outcome: str

    @property
    def hours(self) -> float:
        """Return all hours of the run [h]."""
        return self.wait + self.work

    @property
    def end(self) -> float:
        """Return when it ends [days]."""
        return self.start + self.hours / job.HOURS_PER_DAY


def serves(contract: Table, run: Table) -> bool:
    """Return whether a contract serves a run."""
    kinds, options = contract.get("kinds", []), contract.get("options", [])
    if not kinds and not options:
        return True
    if run.get("kind", "other") in kinds:
        return True
    return any(option in options for option in run.get("options", []))


def called_out(
    scenario: Table, contract: Table, *, starts: list[tuple[int, float]]
) -> float | None:
    """Return when a contract is called out [days], or None where it is not.

    `starts` lists the number and the start [days] of every run made or beginning.
    """
    runs = scenario["run"]
    if "held_days" in contract:
        return -float(contract["held_days"])
    if not starts or not any(serves(contract, run) for run in runs):
        return None
    call_out = contract.get("call_out")
    if call_out == 0:
        return 0.0
    moments = [start for number, start in starts if number == call_out]
    moments += [start for number, start in starts if serves(contract, runs[number - 1])]
    return min(moments, default=None)


def waiting(
    scenario: Table, number: int, *, start: float, before: list[tuple[int, float]]
) -> float:
    """Return the hours that run `number` waits from its `start` [days], delivery included [h].

    `before` lists the number and the start [days] of every run made before it.
    """
    run = scenario["run"][number - 1]
    wait = float(run.get("wait", 0.0))
    for contract in scenario.get("rental", []):
        if serves(contract, run) and "held_days" not in contract:
            moment = called_out(scenario, contract, starts=[*before, (number, start)])
            assert moment is not None
            arrival = moment + contract.get("delivery", 0.0) / job.HOURS_PER_DAY
            wait = max(wait, (arrival - start) * job.HOURS_PER_DAY)
    return wait


def bill(scenario: Table, contract: Table, *, made: tuple[RunMade, ...]) -> float:
    """Return what a contract comes to when fishing ends after the runs `made` [currency]."""
    called = called_out(scenario, contract, starts=[(run.number, run.start) for run in made])
    if called is None:
        return 0.0
    table = {run.number: scenario["run"][run.number - 1] for run in made}
    served = [run for run in made if serves(contract, table[run.number])]

    end_of_fishing = made[-1].end if made else float(job.common_days(scenario))
    working = sum(run.hours for run in served) / job.HOURS_PER_DAY
    minimum = contract.get("minimum_days", 0.0)
    total = 0.0
    if "held_days" in contract:
        standby = end_of_fishing - working
        minimum = max(0.0, minimum - contract["held_days"])
    else:
        standby = end_of_fishing - called - working
        total += contract.get("mobilization", 0.0)

    day = contract.get("day", 0.0)
    total += max(day * minimum, day * working + contract.get("standby_day", 0.0) * standby)
    for run in served:
        washed = table[run.number].get("part_length", 0.0)
        washed = table[run.number].get("wash_length", washed)
        total += contract.get("redress", 0.0) + contract.get("per_foot", 0.0) * washed
        if run.outcome == "string_lost":
            total += contract.get("replacement", 0.0)
        elif run.outcome == "hole_lost":
            share = scenario["fishing"]["hole_lost_string_share"]
            total += contract.get("replacement", 0.0) * share
    return float(total)


def bills(scenario: Table, *, made: tuple[RunMade, ...]) -> float:
    """Return what all contracts come to after the runs `made` [currency]."""
    return sum(bill(scenario, each, made=made) for each in scenario.get("rental", []))


def spent_so_far(scenario: Table, contract: Table, *, made: tuple[RunMade, ...]) -> float:
    """Return what a contract has come to after the runs `made`, its minimum left aside."""
    open_ended = {**contract, "minimum_days": 0.0}
    return bill(scenario, open_ended, made=made)


# ---- one history ------------------------------------------------------------------------------


@dataclass(frozen=True)
class History:
    """What has happened up to the end of a run; the first `logged` runs are past and paid."""

    made: tuple[RunMade, ...]
    logged: int
    fish_top: float  # [ft]
    damaged: bool
    chances: dict[str, float]  # of each kind of fish together with all outcomes seen

    @property
    def probability(self) -> float:
        """Return the chance of this history."""
        return sum(self.chances.values())

    @property
    def ending(self) -> str | None:
        """Return the outcome that ended the job, or None where fishing may go on."""
        last = self.made[-1].outcome if self.made else "nothing"
        return None if last in (*GOES_ON, UNFINISHED) else last


def beginning(scenario: Table) -> History:
    """Return the history of a job of which nothing has been done yet."""
    return History(
        made=(),
        logged=0,
        fish_top=float(scenario["fish"]["top"]),
        damaged=False,
        chances=outcome_tree.kinds_of_fish(scenario),
    )


def loss_grown(odds: Odds, *, ratio: float, days: float) -> Odds:
    """Return odds whose chance of a loss has grown by `ratio` a day over `days` [days]."""
    loss = sum(odds[outcome] for outcome in LOSSES)
    if loss == 0.0 or loss >= 1.0:
        return odds
    z = ratio**days
    grown = loss * z / (1.0 - loss + loss * z)
    return job.settled(
        {
            outcome: chance * (grown / loss if outcome in LOSSES else 1.0)
            for outcome, chance in odds.items()
        }
    )


def odds_before(scenario: Table, run: Table, kind: str, *, days: float, damaged: bool) -> Odds:
    """Return the odds of a run that starts after `days` [days] on a top `damaged` or not."""
    table = run["odds"].get(kind, run["odds"])
    stated = {outcome: float(table.get(outcome, 0.0)) for outcome in OUTCOMES}
    ratio = scenario["fishing"].get("loss_odds_ratio_per_day", 1.0)
    changed = {**run, "odds": loss_grown(stated, ratio=ratio, days=days)}
    position = Position(runs=0, fish_top=0.0, damaged=damaged, days=days, spent=0.0)
    return outcome_tree.run_odds(scenario, changed, kind, position=position)


def elapsed(scenario: Table, history: History) -> float:
    """Return the time since the decision [days]."""
    return history.made[-1].end if history.made else float(job.common_days(scenario))


def runs_made(history: History) -> int:
    """Return how many runs were made to their end."""
    return sum(run.outcome != UNFINISHED for run in history.made)


def left_to_make(scenario: Table, history: History) -> list[int]:
    """Return the numbers of the runs not made yet, in the order of the program."""
    made = {run.number for run in history.made if run.outcome != UNFINISHED}
    return [n for n in range(1, len(scenario["run"]) + 1) if n not in made]


def with_run(scenario: Table, history: History, run_made: RunMade, *, top: float | None) -> History:
    """Return the history after one more run; `top` [ft] is where a part recovery left the fish."""
    run, outcome = scenario["run"][run_made.number - 1], run_made.outcome
    if outcome == UNFINISHED:
        return replace(history, made=(*history.made, run_made))
    chances = {
        kind: chance
        * odds_before(scenario, run, kind, days=run_made.start, damaged=history.damaged)[outcome]
        for kind, chance in history.chances.items()
    }
    fish_top = history.fish_top
    if outcome == "part":
        by_length = float(job.top_after_part(scenario, run, fish_top=fish_top))
        fish_top = by_length if top is None else top
    damaged = history.damaged and not run.get("dresses_top", False)
    return History(
        made=(*history.made, run_made),
        logged=history.logged,
        fish_top=fish_top,
        damaged=damaged or outcome == "top_damaged",
        chances=chances,
    )


def walk(scenario: Table, outcomes: tuple[str, ...], *, since: History) -> History:
    """Return the history once the next runs of the program have ended in `outcomes`."""
    history = since
    for outcome in outcomes:
        number = left_to_make(scenario, history)[0]
        run, start = scenario["run"][number - 1], elapsed(scenario, history)
        before = [(made.number, made.start) for made in history.made]
        wait = waiting(scenario, number, start=start, before=before)
        work = float(job.run_hours(scenario, {**run, "wait": 0.0}, fish_top=history.fish_top))
        history = with_run(scenario, history, RunMade(number, start, wait, work, outcome), top=None)
    return history


def fishing_cost(scenario: Table, history: History) -> float:
    """Return all that is paid from now on but the fallback, contracts included [currency]."""
    cost = 0.0
    if history.logged == 0:
        cost += float(job.common_cost(scenario))
        cost += float(job.fishing_mobilization(scenario)) if history.made else 0.0
    day = float(job.spread(scenario) + job.fishing_day(scenario))
    for made in history.made[history.logged :]:
        cost += made.hours / job.HOURS_PER_DAY * day
        cost += scenario["run"][made.number - 1].get("charge", 0.0)
    cost += bills(scenario, made=history.made)
    if history.logged:
        logged = history.made[: history.logged]
        contracts = scenario.get("rental", [])
        cost -= sum(spent_so_far(scenario, contract, made=logged) for contract in contracts)
    if history.ending == "recovered":
        cost += float(job.recovery_cost(scenario))
    return cost


def fallback_points(scenario: Table, history: History) -> Points:
    """Return every cost of the fallback with its chance where fishing stops here [currency]."""
    if history.ending == "recovered":
        return [(0.0, 1.0)]
    ending, run = _ending(scenario, history)
    taken = endings.cheapest(scenario, fish_top=history.fish_top, ending=ending, run=run)
    return endings.cost_points(scenario, taken, fish_top=history.fish_top, ending=ending, run=run)


def total_cost(scenario: Table, history: History) -> float:
    """Return the expected cost from now on where fishing stops here [currency]."""
    cost = fishing_cost(scenario, history)
    if history.ending == "recovered":
        return cost
    ending, run = _ending(scenario, history)
    return cost + endings.mean_fallback(scenario, fish_top=history.fish_top, ending=ending, run=run)


def _ending(scenario: Table, history: History) -> tuple[Ending, Table | None]:
    if history.ending is None:
        return "limit", None
    ending: Ending = "string_lost" if history.ending == "string_lost" else "hole_lost"
    return ending, scenario["run"][history.made[-1].number - 1]


# ---- the tree ---------------------------------------------------------------------------------


def ends(
    scenario: Table,
    *,
    since: History,
    limit_runs: int | None = None,
    limit_days: float | None = None,
) -> Iterator[History]:
    """Yield every history that a limit leads to; a limit that is None does not bind.

    `limit_runs` counts the runs after `since`, the minimum of the scenario counts all runs.
    """

    def below(outcomes: tuple[str, ...]) -> Iterator[History]:
        history = walk(scenario, outcomes, since=since)
        if history.probability == 0.0:
            return
        within = limit_runs is None or len(outcomes) < limit_runs
        within = within and (limit_days is None or elapsed(scenario, history) < limit_days)
        required = runs_made(history) < outcome_tree.minimum_runs(scenario)
        none_left = not left_to_make(scenario, history)
        if history.ending or none_left or not (within or required):
            yield history
            return
        for outcome in OUTCOMES:
            yield from below((*outcomes, outcome))

    yield from below(())


def expected_cost(
    raw: Table, *, limit_runs: int | None = None, limit_days: float | None = None
) -> float:
    """Return the expected cost under a limit by runs, by days [days], by both or by none."""
    scenario = endings.plain(raw)
    return sum(
        history.probability * total_cost(scenario, history)
        for history in ends(
            scenario, since=beginning(scenario), limit_runs=limit_runs, limit_days=limit_days
        )
    )


def expected_costs_with_rentals(raw: Table) -> list[float]:
    """Return the expected cost of every limit from 0 runs to all of them [currency]."""
    return [expected_cost(raw, limit_runs=n) for n in range(len(raw.get("run", [])) + 1)]


def cost_points(
    raw: Table, *, limit_runs: int | None = None, limit_days: float | None = None
) -> Points:
    """Return every total cost with its chance, the events of the fallback happening or not."""
    scenario = endings.plain(raw)
    points: Points = []
    for history in ends(
        scenario, since=beginning(scenario), limit_runs=limit_runs, limit_days=limit_days
    ):
        spent = fishing_cost(scenario, history)
        for cost, chance in fallback_points(scenario, history):
            points.append((spent + cost, history.probability * chance))
    return points


def best_rule_cost(scenario: Table, *, since: History) -> float:
    """Return the expected cost of the best rule by state from `since` on [currency].

    The chances stay joint with all that was seen, so that no formula for the belief is needed:
    after each history the lesser of (chance x cost of stopping) and the sum over the next outcomes.
    """

    def least(outcomes: tuple[str, ...]) -> float:
        history = walk(scenario, outcomes, since=since)
        if history.probability == 0.0:
            return 0.0
        stop = history.probability * total_cost(scenario, history)
        if history.ending or not left_to_make(scenario, history):
            return stop
        go = sum(least((*outcomes, outcome)) for outcome in OUTCOMES)
        required = runs_made(history) < outcome_tree.minimum_runs(scenario)
        return go if required else min(stop, go)

    return least(()) / since.probability
