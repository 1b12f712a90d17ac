"""What a reading of the fish is worth against its price: free point, caliper, impression block.

A reading tells whether the fish is workable, and is right with a stated chance. Its worth is
the cost of the best rule by state without it less that with it, where the rule is chosen anew
for each result (`econ.decision.value_of_information`). Its price is its hours at the spread and
the fishing day, and its charges. Buy it if the worth is more than the price. The price leaves
out that odds fall while the rig waits for the reading.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import Estimate, estimate
from econ.decision.state_rule import RuleLevel, value_by_scramble
from econ.decision.value_of_information import value_of_test
from econ.engine.expected import Expected
from econ.scenario.framed import Framed
from econ.scenario.paperwork import Reading

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
STATED = (1.0, 0.9, 0.8)  # reliabilities that are always valued


@dataclass(frozen=True)
class Result:
    """One of the two results of a reading.

    says: the kind of fish that it points to, workable or stubborn; chance: of this result;
    workable: chance of a workable fish after it; best: the best limit on runs after it.
    """

    says: str
    chance: float
    workable: float
    best: int


@dataclass(frozen=True, repr=False)
class ReadingWorth(Framed):
    """What a reading is worth, and whether to buy it.

    reliability, reliability_stubborn: chance that it is right on a workable and on a stubborn
    fish; worth, price [currency]: of those that are only shown there is no price; hours [h];
    buy: None where there is no price; clear: whether worth and price are told apart.
    """

    name: str
    reliability: float
    reliability_stubborn: float
    worth: Estimate
    price: float | None
    hours: float
    buy: bool | None
    clear: bool
    results: tuple[Result, ...]


@dataclass(frozen=True, repr=False)
class ValueOfInformation(Framed):
    """Worth of readings of what nobody knows as it is now; no reading where the scenario has no
    kinds, or where a run of the log has made another kind of the fish.

    least_workable: lowest chance of a workable fish at which one run and then a stop pays; None
    where no chance does, there is no kind or no run, or several doubts; stated: readings of stated
    reliability, the first of them certain, of all doubts where there are several; readings: those
    of the file.
    """

    least_workable: float | None
    stated: tuple[ReadingWorth, ...]
    readings: tuple[ReadingWorth, ...]

    @property
    def evpi(self) -> Estimate:
        """Expected value of perfect information: of knowing the kind for certain [currency]."""
        return self.stated[0].worth if self.stated else Estimate(0.0, 0.0)

    def to_frame(self) -> pandas.DataFrame:
        """One row a reading: those of stated reliability, then those of the file."""
        import pandas

        rows = [asdict(each) for each in (*self.stated, *self.readings)]
        for row in rows:
            worth = row.pop("worth")
            row |= {"worth": worth["value"], "worth_error": worth["error"]}
            row.pop("results")
        return pandas.DataFrame(rows)


def value_of_information(
    levels: Sequence[RuleLevel],
    found: Expected,
    readings: Sequence[Reading],
    *,
    doubts: Sequence[str],
    minimum: int,
    scrambles: int,
    hour: float,
    weighed: Callable[[Array], Sequence[RuleLevel]] | None = None,
) -> ValueOfInformation:
    """Worth of readings of stated reliability and of those of a scenario.

    levels: of the best rule by state; found: costs of every limit; doubts: their names, none where
    there is nothing that a reading could tell now; minimum: runs that must be made; hour: what an
    hour of waiting costs [currency]; weighed: the levels with the kinds of fish as they are now
    multiplied by factors, where a run makes another kind of the fish, so that what goes with a kind
    later is not what goes with it now.
    """
    if not doubts:
        return ValueOfInformation(None, (), ())
    cost = found.cost.mean(axis=2)  # (kinds, limits), weighted by the prior
    prior = found.still[:, 0].mean(axis=1)

    def value(factors: Array) -> Array:
        if weighed is not None:
            same, ones = weighed(factors), np.ones_like(factors)
            return value_by_scramble(same, minimum=minimum, scrambles=scrambles, factors=ones)
        return value_by_scramble(levels, minimum=minimum, scrambles=scrambles, factors=factors)

    def worth(
        name: str,
        right: tuple[float, float],
        reading: Reading | None = None,
        *,
        about: int | None = 0,
    ) -> ReadingWorth:
        likelihood = _likelihood(len(prior), right, about)
        gain = estimate(value_of_test(value=value, likelihood=likelihood))
        mean, error = gain.value, gain.error
        if mean <= 0 or not gain.resolved(float(cost.sum(axis=0).min())):
            mean = 0.0  # not told apart from nothing, below which no knowledge is worth
        price = None if reading is None else reading.hours * hour + reading.cost
        return ReadingWorth(
            name=name,
            reliability=right[0],
            reliability_stubborn=right[1],
            worth=Estimate(mean, error),
            price=price,
            hours=0.0 if reading is None else reading.hours,
            buy=None if price is None else mean > price,
            clear=price is None or Estimate(mean - price, error).resolved(),
            results=()
            if about is None or weighed is not None
            else _results(likelihood, prior, cost, minimum, about),
        )

    stated: list[tuple[str, float, int | None]] = [
        ("for certain" if r == 1.0 else f"{100 * r:.0f} % reliable", r, 0) for r in STATED
    ]
    if len(doubts) > 1:
        stated = [("all doubts, for certain", 1.0, None)]
        stated += [(f"{name}, for certain", 1.0, doubt) for doubt, name in enumerate(doubts)]
    return ValueOfInformation(
        least_workable=_least_workable(prior, cost)
        if len(doubts) == 1 and weighed is None
        else None,
        stated=tuple(worth(name, (r, r), about=about) for name, r, about in stated),
        readings=tuple(
            worth(
                each.name,
                (
                    each.reliability,
                    each.reliability
                    if each.reliability_stubborn is None
                    else each.reliability_stubborn,
                ),
                each,
                about=0 if each.about is None else doubts.index(each.about),
            )
            for each in readings
        ),
    )


def _least_workable(prior: Array, cost: Array) -> float | None:
    """Chance at which the mean of C_1 - C_0 over the kinds is zero; it is linear in the chance."""
    if cost.shape[1] < 2 or prior.min() <= 0:
        return None
    workable, stubborn = (cost[:, 1] - cost[:, 0]) / prior
    if stubborn < 0:  # it pays on any fish, or on a stubborn one only
        return 0.0
    return None if workable >= 0 else float(stubborn / (stubborn - workable))


def _likelihood(kinds: int, right: tuple[float, float], about: int | None) -> Array:
    """Chance of each result in each kind of fish: of a reading about a doubt, shape (kinds, 2); of
    one that names the kind where it is about all of them, shape (kinds, kinds)."""
    if about is None:
        return np.eye(kinds)
    against = np.arange(kinds) >> about & 1
    table = np.array([[right[0], 1.0 - right[0]], [1.0 - right[1], right[1]]])
    return np.asarray(table[against])


def _results(
    likelihood: Array, prior: Array, cost: Array, minimum: int, about: int
) -> tuple[Result, ...]:
    favour = np.arange(len(prior)) >> about & 1 == 0
    rows = []
    for says, chances in zip(("workable", "stubborn"), likelihood.T, strict=True):
        joint = chances * prior
        total = float(joint.sum())
        if total <= 0:
            continue
        best = minimum + int(np.argmin((chances @ cost)[minimum:]))
        rows.append(Result(says, total, float(joint[favour].sum() / total), best))
    return tuple(rows)
