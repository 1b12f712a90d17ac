"""A class exercise played without the page: every rule of the game in Python, from the model alone.

Written from the head of `econ.decision.class_model`, not from the script of the page. Decisions are
numbers of runs, or STOP.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.decision.class_model import Branch, ClassModel, ClassState, Option

STOP = "stop"
Do = int | str
ORDER = ("recovered", "part", "nothing", "prepared", "top_damaged", "string_lost", "hole_lost")
ENDS = ("recovered", "string_lost", "hole_lost")


@dataclass(frozen=True)
class Envelope:
    """What the runs come to: a log by its place, a number, and outcomes by run."""

    number: int = 1
    log: int | None = None
    own: tuple[tuple[int, str], ...] = ()

    def as_typed(self) -> dict[str, object]:
        """As the page keeps it in its address."""
        return {"log": self.log, "number": self.number, "own": {str(r): o for r, o in self.own}}


@dataclass(frozen=True)
class Score:
    """What the page shows of a team at the end; guesses are chances, None where none is typed."""

    runs: int
    total: float
    regret: float
    hindsight: float
    luck: float
    brier: float | None
    stated: float | None


class Player:
    """The game of one model, envelope and kind of choices."""

    def __init__(self, model: ClassModel, envelope: Envelope, *, anything: bool) -> None:
        self.model, self.envelope, self.anything = model, envelope, anything
        log = None if envelope.log is None else model.logs[envelope.log]
        self.start = model.start if log is None else log.start
        self.spent = 0.0 if log is None else log.spent
        self.steps = {} if log is None else {(s.before, s.run): s for s in log.steps}
        self.told = {} if log is None else {s.run: s.outcome for s in log.steps}
        self.told |= dict(envelope.own)
        kinds = model.states[self.start].kinds if log is None else log.last_kinds
        self.uniform = model.envelopes[envelope.number - 1]
        self.kind = self._first_above(list(kinds), self.uniform[0])

    @staticmethod
    def _first_above(chances: list[float], u: float) -> int:
        total = 0.0
        for place, chance in enumerate(chances):
            total += chance
            if u < total:
                return place
        return max(place for place, chance in enumerate(chances) if chance > 0)

    def offered(self, place: int) -> dict[Do, float]:
        """What can be done in a state, and its expected cost."""
        state = self.model.states[place]
        going = [run for before, run in self.steps if before == place] or [state.listed]
        runs: dict[Do, float] = {
            option.run: option.by_plan if self.anything else option.by_list
            for option in state.options
            if self.anything or option.run in going
        }
        return runs | ({STOP: state.stop} if state.may_stop or not runs else {})

    def comes(self, place: int, run: int) -> tuple[str, float, int | None]:
        """Outcome, what is paid, and the state after it."""
        step = self.steps.get((place, run))
        if step is not None:
            if step.outcome in ENDS:
                return step.outcome, step.paid + self.model.states[step.after].stop, None
            return step.outcome, step.paid, step.after
        state = self.model.states[place]
        option = next(each for each in state.options if each.run == run)
        branch = next((b for b in option.branches if b.outcome == self.told.get(run)), None)
        if branch is None or chance_of(state, branch) <= 0:
            branches = sorted(option.branches, key=lambda each: ORDER.index(each.outcome))
            chances = [each.chances[self.kind] for each in branches]
            if self.model.renewing or not any(chances):
                chances = [chance_of(state, each) for each in branches]
            branch = branches[self._first_above(chances, self.uniform[run])]
        return branch.outcome, branch.paid, branch.after

    def score(self, decisions: Sequence[tuple[Do, float | None]]) -> Score:
        """The score of a team that decides so; it stops where its decisions end."""
        place: int | None = self.start
        total, regret, mine, stated, runs = self.spent, 0.0, [], [], 0
        for do, guess in decisions:
            assert place is not None
            offered = self.offered(place)
            regret += offered[do] - min(offered.values())
            state = self.model.states[place]
            if do == STOP:
                total += state.stop
                place = None
                break
            assert isinstance(do, int)
            outcome, paid, after = self.comes(place, do)
            option = next(each for each in state.options if each.run == do)
            out = float(outcome == "recovered")
            if guess is not None:
                mine.append(2 * (guess - out) ** 2)
            stated.append(2 * (recovers(state, option) - out) ** 2)
            total, place, runs = total + paid, after, runs + 1
        if place is not None:
            assert set(self.offered(place)) == {STOP}, "the job is not over"
            total += self.model.states[place].stop
        first = self.spent + min(self.offered(self.start).values())
        least = self.spent + self.cheapest(self.start)
        return Score(
            runs=runs,
            total=total,
            regret=regret,
            hindsight=total - least,
            luck=total - first - regret,
            brier=sum(mine) / len(mine) if mine else None,
            stated=sum(stated) / len(stated) if stated else None,
        )

    def cheapest(self, place: int) -> float:
        """Cost of the cheapest way from a state, for whoever has read the envelope."""
        return min(self._along(place, do) for do in self.offered(place))

    def _along(self, place: int, do: Do) -> float:
        if do == STOP:
            return self.model.states[place].stop
        assert isinstance(do, int)
        _, paid, after = self.comes(place, do)
        return paid + (0.0 if after is None else self.cheapest(after))

    def ways(self, place: int | None = None) -> list[list[Do]]:
        """Every way through the envelope, to the stop or to the end of the job."""
        at = self.start if place is None else place
        found: list[list[Do]] = []
        for do in self.offered(at):
            if do == STOP:
                found.append([STOP])
                continue
            assert isinstance(do, int)
            after = self.comes(at, do)[2]
            if after is None or set(self.offered(after)) == {STOP}:
                found.append([do])
            else:
                found += [[do, *rest] for rest in self.ways(after)]
        return found


def chance_of(state: ClassState, branch: Branch) -> float:
    """Chance of an outcome by the belief of a state."""
    return sum(kind * chance for kind, chance in zip(state.kinds, branch.chances, strict=True))


def recovers(state: ClassState, option: Option) -> float:
    """Chance that a run brings the fish out."""
    return sum(chance_of(state, b) for b in option.branches if b.outcome == "recovered")
