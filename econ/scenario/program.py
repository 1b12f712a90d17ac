"""[fishing], [[run]], [recovery] and [common]: the program of runs, what it costs and may bring."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal, get_args

from pydantic import Discriminator, Field, PrivateAttr, Tag, model_validator
from pydantic_core import PydanticCustomError

from econ.scenario.amounts import Finite
from econ.scenario.base import (
    COUNT,
    MOST_CONTRACTS,
    MOST_RUNS,
    MOST_TRIPS,
    Chance,
    DayRate,
    Diameter,
    Hours,
    Length,
    Money,
    Odds,
    Ratio,
    Section,
    Share,
    Text,
    key,
)
from econ.scenario.doubts import MOST_DOUBTS, Doubt, favourable
from econ.scenario.evidence import Evidence, in_words
from econ.scenario.marks import ATTACHED, MOST_WORDS, Word, Words, made
from econ.scenario.quantities import Quantity

RunKind = Literal[
    "screw_in",
    "overshot",
    "dress_top",
    "washover",
    "wash_then_catch",
    "outside_cut",
    "freepoint_backoff",
    "spear",
    "taper_tap",
    "wall_hook",
    "magnet",
    "core_basket",
    "rc_basket",
    "boot_basket",
    "junk_mill",
    "condition_trip",
    "soak",
    "work_jar",
    "sever",
    "chemical_cut",
    "source_retrieval",
    "cable_spear",
    "cut_thread",
    "side_door",
    "die_collar",
    "knuckle_joint",
    "drill_past",
    "other",
]
RunOption = Literal["bumper_sub", "jars", "accelerator", "wash_string_spear"]
Kinds = Annotated[list[RunKind], Field(max_length=len(get_args(RunKind)))]
Options = Annotated[list[RunOption], Field(max_length=len(get_args(RunOption)))]


class Fishing(Section):
    """[fishing]: what fishing adds to the spread, and the chance that it can work."""

    day_rates: Annotated[dict[str, DayRate], Field(max_length=MOST_CONTRACTS)] = key(
        "Services and standing rentals of fishing, by name; their sum is the fishing day",
        default={},
    )
    mobilization: Money = key("Paid once if any run is made", 0.0)
    workable: Chance = key("Prior chance that the fish is of the workable kind", 0.5)
    damaged_top_factor: Share = key(
        "Share of its recovered odds that a run keeps while the top is damaged", 0.6
    )
    odds_ratio_per_day: Ratio = key(
        "Factor on the odds p/(1-p) of recovery for each day since the decision", 1.0
    )
    loss_odds_ratio_per_day: Ratio = key(
        "Factor on the odds p/(1-p) of losing the string or the hole for each day since the "
        "decision",
        1.0,
    )
    hole_lost_string_share: Share = key(
        "Share of string_value owed when the hole is lost with the string in it", 0.3
    )
    learn_hours: bool = key(
        "Whether the hours of the runs made, against plan, change those of the runs ahead", False
    )
    hours_spread: Annotated[Finite, Quantity("ratio", least=0, above=True)] = key(
        "How far all hours of a job may lie from plan: deviation of the logarithm of their ratio",
        0.25,
    )
    hours_scatter: Annotated[Finite, Quantity("ratio", least=0, above=True)] = key(
        "How far the hours of one run may lie from those of the others, in the same measure", 0.3
    )
    _evidence: tuple[Evidence, ...] = PrivateAttr(())

    @property
    def evidence(self) -> tuple[Evidence, ...]:
        """What past jobs had to say on its chances, where `odds_from` names some."""
        return self._evidence

    def with_evidence(self, evidence: tuple[Evidence, ...]) -> Fishing:
        """The same section, knowing what its chances rest on."""
        known = self.model_copy()
        known._evidence = evidence
        return known


OUTCOMES = (
    *("recovered", "part", "nothing", "prepared", "top_damaged", "string_lost", "hole_lost"),
)
ROUNDING = 1e-6  # odds may miss a sum of 1 by this much


class OutcomeOdds(Section):
    """Odds of the seven outcomes of a run; they sum to 1, one left out is 0."""

    recovered: Odds = key("The whole fish is out", 0.0)
    part: Odds = key("Part of it is out and the top is lower by part_length", 0.0)
    nothing: Odds = key("No change", 0.0)
    prepared: Odds = key("The run did its own job, and the fish is still there", 0.0)
    top_damaged: Odds = key("No change but a damaged top", 0.0)
    string_lost: Odds = key("The fishing string stays as a second fish", 0.0)
    hole_lost: Odds = key("The hole is lost up to the shoe", 0.0)
    weight: Annotated[Finite, Quantity("count", least=0, above=True)] | None = key(
        "Number of past runs these odds are worth: recovered is then Beta distributed "
        "and the others keep their proportions; left out, the odds are exact",
        None,
    )

    @model_validator(mode="after")
    def _sum(self) -> OutcomeOdds:
        total = sum(getattr(self, name) for name in OUTCOMES)
        if abs(total - 1) > ROUNDING:
            need = self.nothing + 1 - total
            raise PydanticCustomError(
                "odds_sum",
                "{given}",
                {
                    "given": f"odds that sum to {total:.10g}",
                    "allowed": "a sum of 1",
                    "suggestion": f"nothing = {need:.10g} would make it 1"
                    if 0 <= need <= 1
                    else "check each of the seven",
                },
            )
        return self


class OddsByKind(Section):
    """Odds of a run on a workable and on a stubborn fish."""

    workable: OutcomeOdds = key("Odds if the fish is workable")
    stubborn: OutcomeOdds = key("Odds if it is stubborn")


def _by_kind(value: Any) -> str:
    kinds = {"workable", "stubborn"}
    by_kind = isinstance(value, OddsByKind) or (isinstance(value, dict) and kinds & set(value))
    return "<by kind>" if by_kind else "<one kind>"


class Trip(Section):
    """One round trip of a run."""

    make_up: Hours = key("Make up the fishing assembly", 0.0)
    circulate: Hours = key("Circulate and wash to the top", 0.0)
    work: Hours = key("Engage, jar, wash or mill", 0.0)
    lay_down: Hours = key("Lay down", 0.0)


class Run(Section):
    """[[run]]: a step of the program, of one or more trips, in the order planned."""

    name: Text = key("What is run")
    kind: RunKind = key("Kind of run", "other")
    wait: Hours = key("Waiting before the first trip", 0.0)
    trips: Annotated[list[Trip], Field(min_length=1, max_length=MOST_TRIPS)] | None = key(
        "The round trips; or give hours", None
    )
    hours: Hours | None = key("All hours of the run after the wait, instead of trips", None)
    charge: Money = key("Charges of the run besides day rates", 0.0)
    part_length: Length = key("How far the top moves down after outcome part", 0.0)
    string_length: Length = key("How much shallower the top is after string_lost", 0.0)
    string_value: Money = key("What is owed for the fishing string if it is lost", 0.0)
    dresses_top: bool = key("Whether the run dresses a damaged top before it catches", False)
    options: Options = key("What is run with it, for methods and rentals", default=[])
    after: Annotated[
        list[Annotated[int, Field(ge=1, json_schema_extra=COUNT)]], Field(max_length=MOST_RUNS)
    ] = key("Numbers of the runs that must have been made before this one", default=[])
    wash_length: Length | None = key(
        "Length washed over, for rentals by length; left out, part_length", None
    )
    tool_outside: Diameter | None = key("Largest outside diameter of the tool", None)
    tool_inside: Diameter | None = key("Bore that must pass over the fish, as of wash pipe", None)
    origin: str = key("Where the odds and hours are from", "", max_length=300)
    depends_on: Annotated[list[Word], Field(max_length=MOST_DOUBTS)] | None = key(
        "Names of the doubts that must all be in favour for its workable odds; left out, all",
        None,
    )
    needs: Words = key("Marks that must all hold at its start", default=[])
    bars: Words = key("Marks of which none may hold at its start", default=[])
    gives: Words = key("Marks that hold after its outcomes prepared and part", default=[])
    takes: Words = key("Marks that hold no more after its outcomes prepared and part", default=[])
    ratio_with: Annotated[dict[Word, Ratio], Field(max_length=MOST_WORDS)] = key(
        "Factors on the odds p/(1-p) of recovery, each while the mark of its name holds",
        default={},
    )
    renews: Annotated[dict[Word, Chance], Field(max_length=MOST_DOUBTS)] = key(
        "Doubts by name that hold afresh after its outcomes prepared and part, with these chances",
        default={},
    )
    at_most: Annotated[int, Field(ge=1, le=9)] = key(
        "How often the plan may make the run; a list makes it once", 1, json_schema_extra=COUNT
    )
    fishing_share: Share = key("Share of the fishing day that is paid in its hours", 1.0)
    odds: Annotated[
        Annotated[OddsByKind, Tag("<by kind>")] | Annotated[OutcomeOdds, Tag("<one kind>")],
        Discriminator(_by_kind),
    ] = key("Odds of the outcomes, by kind of fish or one table; left out, those of odds_from")
    _evidence: tuple[Evidence, ...] = PrivateAttr(())

    @model_validator(mode="after")
    def _one_clock(self) -> Run:
        if (self.hours is None) == (self.trips is None):
            given = "neither hours nor trips" if self.hours is None else "both hours and trips"
            raise PydanticCustomError(
                "one_clock",
                "{given}",
                {
                    "given": given,
                    "allowed": "one of: hours (the whole run), trips (built up from the depth)",
                    "suggestion": "trips = [{ make_up = 2.5, circulate = 1.5, work = 3, "
                    "lay_down = 1.5 }]",
                },
            )
        return self

    @model_validator(mode="after")
    def _depends(self) -> Run:
        by_kind = isinstance(self.odds, OddsByKind)
        if self.depends_on is None or (by_kind and self.depends_on):
            return self
        raise PydanticCustomError(
            "depends_on",
            "{given}",
            {
                "given": "an empty list, with odds by kind of fish"
                if by_kind
                else "doubts, with one table of odds",
                "allowed": "names of doubts with odds for workable and stubborn; one table of "
                "odds depends on none",
                "suggestion": "leave depends_on out for all doubts, or give one table of odds"
                if by_kind
                else "leave it out, or give odds.workable and odds.stubborn",
                "key": "depends_on",
            },
        )

    @property
    def evidence(self) -> tuple[Evidence, ...]:
        """What past jobs had to say on its odds, where `odds_from` names some."""
        return self._evidence

    def with_evidence(self, evidence: tuple[Evidence, ...]) -> Run:
        """The same run, knowing what its odds rest on."""
        known = self.model_copy()
        known._evidence = evidence
        return known

    @property
    def full_origin(self) -> str:
        """`origin` and what past jobs had to say; empty where neither is known."""
        return "; ".join(filter(None, [self.origin, in_words(self.evidence)]))

    @property
    def all_needs(self) -> tuple[str, ...]:
        """Marks that must hold at its start, those of the runs in `after` among them."""
        return (*self.needs, *map(made, self.after))

    @property
    def all_bars(self) -> tuple[str, ...]:
        """Marks of which none may hold at its start; nothing trips while attached."""
        return (*self.bars, ATTACHED) if self.trips is not None else tuple(self.bars)

    @property
    def does_own_job(self) -> bool:
        """Whether it can end in `prepared` or `part`, which give and take marks."""
        return any(odds.prepared > 0 or odds.part > 0 for odds in self.odds_by_kind())

    def odds_by_kind(self) -> tuple[OutcomeOdds, OutcomeOdds]:
        """Odds for a workable and for a stubborn fish."""
        if isinstance(self.odds, OddsByKind):
            return self.odds.workable, self.odds.stubborn
        return self.odds, self.odds

    def favourable(self, doubts: Sequence[Doubt]) -> list[bool]:
        """By kind of fish: whether its workable odds hold. One table of odds depends on no doubt.

        The kinds are those of `econ.scenario.doubts`.
        """
        return favourable(doubts, self.depends_on if isinstance(self.odds, OddsByKind) else ())

    def odds_paths(self, number: int) -> tuple[str, str]:
        """Key paths of the chance of recovery by kind, for run `number` counted from 0."""
        start = f"run.{number + 1}.odds."
        if isinstance(self.odds, OddsByKind):
            return f"{start}workable.recovered", f"{start}stubborn.recovered"
        return f"{start}recovered", f"{start}recovered"


class Recovery(Section):
    """[recovery]: what still has to be done after the whole fish is out."""

    hours: Hours = key("Pull slowly, lay down, inspect, ream, back to bottom", 0.0)
    charge: Money = key("Inspection and repair", 0.0)
    fishing_share: Share = key("Share of the fishing day still paid", 0.5)


class Parting(Section):
    """[parting]: getting off the fish, paid once where fishing stops while it is attached."""

    hours: Hours = key("Hours, at the spread and the fishing day", 0.0)
    charge: Money = key("Charges besides day rates", 0.0)


class Common(Section):
    """[common]: owed on every branch before the first decision."""

    hours: Hours = key("Hours, at the spread", 0.0)
    cost: Money = key("Cost besides the spread", 0.0)
