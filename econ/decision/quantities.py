"""What a limit takes: days, chances and counts, and what the ledger makes of them.

A line of the ledger (`econ.engine.ledger`) is a sum of quantities, each times its price. Both
are expectations over the draws, so for a quantity Q at a price P

    amount = E[Q P],      effective price = E[Q P]/E[Q]

and the effective price is the stated one where P is a single number. "Planned" stands for the
job on which every run to the limit fails; where that cannot happen it is the mean.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from econ.decision.figures import NONE_LEFT
from econ.engine.curves import FISHING, Curves
from econ.engine.ledger import BY_FALLBACK, LINES, SPENDING


@dataclass(frozen=True)
class FallbackQuantities:
    """Expected quantities of a fallback, times the chance that it is taken.

    taken: that chance; hours: without retries [h]; bit_trips, plug_retries, whipstock_attempts:
    numbers; retry_hours: of retries and attempts [h]; sticks: number of times of sticking again,
    or of the trouble of a lump; spent: on it in all, value given up not counted [currency].
    """

    name: str
    taken: float
    hours: float
    bit_trips: float
    plug_retries: float
    whipstock_attempts: float
    retry_hours: float
    sticks: float
    spent: float


@dataclass(frozen=True)
class Quantities:
    """What a limit of `runs` runs takes from now on.

    fishing_days, planned_days: of the runs, waits included, mean and planned [d]; paid_days: of
    them those that pay the fishing day, mean and planned [d]; made: run (its number from 0) and
    chance that it is begun, mean and planned; parted: chance of getting off the fish;
    approval_days: of the wait for the approval of a plug [d], mean; recovered: chance; strings:
    run (its number from 0) and what is expected to be owed for its string and tools [currency];
    expected, planned: the lines of the ledger [currency] by name.
    """

    runs: int
    fishing_days: float
    planned_days: float
    paid_days: tuple[float, float]
    made: tuple[tuple[int, float, float], ...]
    parted: float
    approval_days: float
    recovered: float
    strings: tuple[tuple[int, float], ...]
    fallbacks: tuple[FallbackQuantities, ...]
    expected: Mapping[str, float]
    planned: Mapping[str, float]


def quantities(
    curves: Curves, *, program: Sequence[int], fallbacks: Sequence[str], last: int | None
) -> tuple[Quantities, ...]:
    """Quantities of every limit. program: numbers of the runs to make; fallbacks: their names;
    last: number of the last run logged, None without a log."""
    sums = {name: values.mean(axis=0) for name, values in curves.sums.items()}
    still = {name: values.mean(axis=0) for name, values in curves.still.items()}
    owed = sums["string_lost"]
    before = [] if last is None or not owed[0] > 0 else [(last, float(owed[0]))]
    several = len(fallbacks) > 1
    begun = [
        [run for run in program if f"begun.{run}" in sums and sums[f"begun.{run}"][n] > 0]
        for n in range(len(still["weight"]))
    ]
    rows = []
    for n, weight in enumerate(still["weight"]):
        expected = {name: float(sums[name][n]) for name in LINES}
        days, paid = (float(sums[name][n]) / 24.0 for name in ("fishing_hours", "paid_hours"))
        made = {run: float(sums[f"begun.{run}"][n]) for run in begun[n]}
        planned_made = made
        if weight > NONE_LEFT:
            planned = {name: float(still[name][n] / weight) for name in SPENDING}
            planned_days = float(still["fishing_hours"][n] / weight) / 24.0
            planned_paid = float(still["paid_hours"][n] / weight) / 24.0
            planned_made = {run: float(still[f"made.{run}"][n] / weight) for run in made}
        else:
            planned = {name: expected[name] for name in FISHING}
            planned_days, planned_paid = days, paid
        rows.append(
            Quantities(
                runs=n,
                fishing_days=days,
                planned_days=planned_days,
                paid_days=(paid, planned_paid),
                made=tuple((run, chance, planned_made[run]) for run, chance in made.items()),
                parted=float(sums["parted"][n]),
                approval_days=float(sums["approval_hours"][n]) / 24.0,
                recovered=float(sums["recovered"][n]),
                strings=(*before, *((run, float(sums[f"string.{run}"][n])) for run in begun[n])),
                fallbacks=tuple(
                    FallbackQuantities(
                        label,
                        *(
                            float(sums[f"{name}.{number}" if several else name][n])
                            for name in BY_FALLBACK
                        ),
                    )
                    for number, label in enumerate(fallbacks)
                ),
                expected=expected,
                planned=planned,
            )
        )
    return tuple(rows)
