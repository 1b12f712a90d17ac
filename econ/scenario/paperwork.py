"""Contracts and papers around the job: rentals, the authority for expenditure, partners."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from econ.scenario.amounts import Finite
from econ.scenario.base import (
    COUNT,
    MOST_CONTRACTS,
    MOST_FALLBACKS,
    MOST_LINES,
    DayRate,
    FixedDays,
    FixedHours,
    FixedMoney,
    LengthRate,
    Money,
    Odds,
    Section,
    Sum,
    Text,
    key,
)
from econ.scenario.hole import Moment
from econ.scenario.marks import Word, Words
from econ.scenario.program import Kinds, Options, Run
from econ.scenario.quantities import Quantity


class Rental(Section):
    """[[rental]]: contract of a rented tool."""

    tool: Text = key("The tool")
    kinds: Kinds = key("Kinds of run that use it", default=[])
    options: Options = key(
        "Options of a run that use it; with neither kinds nor options every run does", default=[]
    )
    call_out: Annotated[int, Field(ge=0)] | None = key(
        "Number of the run at whose start it is called out, if no run that uses it is made "
        "before; 0 is now; left out, the first run that uses it",
        None,
        json_schema_extra=COUNT,
    )
    delivery: FixedHours = key("Hours from the call-out until it is on location", 0.0)
    held_days: FixedDays | None = key(
        "Days it has been on contract already, its mobilization paid; left out, not called yet",
        None,
    )
    mobilization: Money = key("To bring it", 0.0)
    minimum_days: FixedDays = key("Days owed at the working rate in any case", 0.0)
    day: DayRate = key("Rate while working", 0.0)
    standby_day: DayRate = key("Rate while standing by", 0.0)
    redress: Money = key("For each run", 0.0)
    per_foot: LengthRate = key("For each unit of length washed over", 0.0)
    replacement: Money = key("Owed when it is lost with the string, besides string_value", 0.0)

    def serves(self, run: Run) -> bool:
        """Whether a run uses the tool."""
        if not self.kinds and not self.options:
            return True
        return run.kind in self.kinds or any(option in self.options for option in run.options)


class Reading(Section):
    """[[reading]]: something that can be learned about the fish before a run, at a price."""

    name: Text = key("What is read, such as a caliper or an impression block")
    reliability: Odds = key("Chance that it reads workable for a workable fish")
    reliability_stubborn: Odds | None = key(
        "Chance that it reads stubborn for a stubborn fish; left out, reliability", None
    )
    hours: FixedHours = key("Hours, at the spread and the fishing day", 0.0)
    cost: Sum = key("Charges", 0.0)
    about: Word | None = key(
        "Name of the doubt that is read; left out where the file has no more than one", None
    )
    needs: Words = key("Marks that must all hold for the reading to be made", default=[])
    bars: Words = key("Marks of which none may hold", default=[])

    @property
    def all_needs(self) -> tuple[str, ...]:
        """Marks that must hold, as of a run."""
        return tuple(self.needs)

    @property
    def all_bars(self) -> tuple[str, ...]:
        """Marks of which none may hold, as of a run."""
        return tuple(self.bars)


class Insurance(Section):
    """[insurance]: what a policy may pay back; shown below the line, in no comparison."""

    chance: Odds = key("Chance that the claim is paid", 0.0)
    amount: Sum = key("What is then paid", 0.0)


Day = date  # a key may be called date
Short = Annotated[str, Field(max_length=300)]
FallbackNumbers = Annotated[
    list[Annotated[int, Field(ge=1)]], Field(max_length=MOST_FALLBACKS)
]  # from 1
Paragraph = Annotated[str, Field(max_length=1000)]


class AfeLine(Section):
    """[[afe.line]]: a line of the authority for expenditure."""

    code: Text = key("Cost code")
    name: Text = key("Description")
    tangible: bool = key("Whether it keeps a salvage value", False)
    original: FixedMoney = key("Original estimate", 0.0)
    spent: FixedMoney = key("Spent to date, invoiced or accrued", 0.0)
    to_come: FixedMoney = key("Still to come without further trouble", 0.0)
    committed: Sum = key(
        "Of what is to come, what an order or a contract binds already: it does not lapse", 0.0
    )
    lapses_under: FallbackNumbers = key(
        "Numbers of the fallbacks under which what is to come and not committed lapses",
        default=[],
        json_schema_extra=COUNT,
    )
    reference: Short = key("Contract or price list that the line rests on", "")

    @property
    def lapses(self) -> float:
        """What is no longer to come under a fallback of `lapses_under` [currency]."""
        return self.to_come - self.committed if self.lapses_under else 0.0


class EarlierSupplement(Section):
    """[[afe.earlier]]: a supplement that was approved before this one."""

    supplement: Annotated[int, Field(ge=1)] = key("Its number", json_schema_extra=COUNT)
    date: Day = key("Date of its approval")
    amounts: Annotated[dict[str, FixedMoney], Field(max_length=MOST_LINES)] = key(
        "What it changed, by cost code: of a line above, or FS10 and so on of its own"
    )


class CurrencySplit(Section):
    """[[afe.currency_split]]: a part of what is asked for that is paid in another currency."""

    currency: Annotated[str, Field(min_length=1, max_length=12)] = key("The other currency")
    share: Odds = key("Share of what is asked for that is paid in it")
    rate: Annotated[Finite, Quantity("ratio", least=0, above=True)] = key(
        "What one of it costs in the currency of the file"
    )
    date: Day = key("Date of the rate")


class Revision(Section):
    """[[afe.revision]]: an issue of this supplement before the present one."""

    issue: Annotated[str, Field(min_length=1, max_length=20)] = key("Number or letter of the issue")
    date: Day = key("Date of the issue")
    change: Text = key("What was changed with it")


class Afe(Section):
    """[afe]: the authority that a supplement adds to."""

    number: str = key("Number", "", max_length=300)
    supplement: Annotated[int, Field(ge=0)] = key(
        "Number of the supplement", 1, json_schema_extra=COUNT
    )
    issue: Annotated[str, Field(max_length=20)] = key("Number or letter of this issue", "")
    issued_at: Moment | None = key(
        "When the supplement is issued; left out, the time that costs are counted from", None
    )
    block: Short = key("Block or lease", "")
    rig: Short = key("The rig", "")
    clause: Short = key("Clause of the agreement that calls for the supplement", "")
    requested_by: Short = key("Who asks for it, and to whom partners reply", "")
    trigger_percent: Annotated[Finite, Quantity("ratio", least=0)] = key(
        "Percent over what is approved that calls for a supplement", 10.0
    )
    trigger_amount: Sum | None = key(
        "Amount over what is approved that calls for one as well; left out, none", None
    )
    trigger_basis: Literal["total", "line"] = key("What percent and amount are counted on", "total")
    spent_until: Day | None = key("Day up to which the lines count what is spent", None)
    price_contingency: Odds = key(
        "Share put on the amounts of the trouble, for prices that are not agreed", 0.0
    )
    vat_and_duties: Literal["excluded", "included"] | None = key(
        "Whether value added tax and duties are in the amounts; left out, not stated", None
    )
    rounding: Literal["largest_remainder", "operator_takes_rest"] = key(
        "Who takes the last decimals of a share: the largest remainders, or the operator",
        "largest_remainder",
    )
    consent_means: Paragraph = key("What consent binds a partner to, by the agreement", "")
    non_consent_means: Paragraph = key("What a partner who does not consent gives up", "")
    silence_means: Paragraph = key("What silence until the reply is due means", "")
    risk_before_reply: Literal["operator", "all"] | None = key(
        "At whose risk money is spent before the reply; left out, not stated", None
    )
    until_reply: Literal["works_on", "stands_by"] | None = key(
        "Whether the work goes on or the rig stands by until the reply; left out, not stated", None
    )
    price_reference: Annotated[dict[str, Text], Field(max_length=MOST_LINES)] = key(
        "Contract or price list behind a price, by its key path in quotes, such as "
        '"rates.rig" or "run.1.charge"',
        default={},
    )
    line: Annotated[list[AfeLine], Field(max_length=MOST_LINES)] = key("The lines", default=[])
    earlier: Annotated[list[EarlierSupplement], Field(max_length=MOST_CONTRACTS)] = key(
        "The supplements approved before this one", default=[]
    )
    currency_split: Annotated[list[CurrencySplit], Field(max_length=MOST_CONTRACTS)] = key(
        "Parts that are paid in another currency", default=[]
    )
    revision: Annotated[list[Revision], Field(max_length=MOST_CONTRACTS)] = key(
        "Issues before this one", default=[]
    )

    def lapsing(self, fallback: int) -> float:
        """What of the lines lapses under a fallback (from 0) [currency]."""
        return sum(each.lapses for each in self.line if fallback + 1 in each.lapses_under)

    def earlier_on(self, code: str) -> Iterator[tuple[EarlierSupplement, float]]:
        """Each earlier supplement that changed the lines of a cost code, and by how much
        [currency]."""
        for before in sorted(self.earlier, key=lambda each: each.supplement):
            if code in before.amounts:
                yield before, before.amounts[code]


class Partner(Section):
    """[[partner]]: a holder of working interest."""

    name: Text = key("Name")
    interest: Annotated[Finite, Quantity("ratio", least=0, most=100)] = key(
        "Working interest; all sum to 1, or to 100 as percent"
    )
    operator: bool = key("Whether this partner operates", False)
    declines_fallback: bool = key(
        "Whether this partner does not consent to pay its share of a fallback", False
    )
    carried_by: Annotated[dict[str, Odds], Field(max_length=MOST_CONTRACTS)] = key(
        "Who carries the share of one who declines: names of partners, with parts that sum to 1",
        default={},
    )
