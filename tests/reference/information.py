"""Reference for what knowledge is worth before it is paid for.

Decision table, chances p_s of the states, payoff x_as of action a in state s:
    best mean           max_a sum_s p_s x_as
    perfect knowledge   sum_s p_s max_a x_as - best mean
    a test              sum_r max_a sum_s p_s P(r | s) x_as - best mean
    certainty equivalent of a lottery at risk tolerance R:  -R ln E[exp(-x / R)]

Kind of fish, V(p) the cost of the best rule by state when workable has the chance p:
    a reading           V(p) - [P(w) V(p | w) + P(s) V(p | s)],
                        r1 = P(reads w | workable), r2 = P(reads s | stubborn)
    perfect             the same at r1 = r2 = 1
    its price           hours / 24 x (spread + fishing day) + charges

Uncertain input x, n the limits by runs:
    perfect             min_n E[C_n] - E_x min_n E[C_n | x]
    where x and every other uncertain input are discrete, all their values listed
"""

import copy
from itertools import product
from math import exp, log
from typing import Any

from . import endings, job, rentals
from .job import Table

# ---- decision tables --------------------------------------------------------------------------


def mean(chances: list[float], values: list[float]) -> float:
    """Return the mean of values that come about with `chances`."""
    return sum(p * x for p, x in zip(chances, values, strict=True))


def best_mean(chances: list[float], payoffs: list[list[float]]) -> float:
    """Return the mean payoff of the best action; one row of payoffs for each action."""
    return max(mean(chances, row) for row in payoffs)


def worth_of_state(chances: list[float], payoffs: list[list[float]]) -> float:
    """Return what knowing the state is worth before acting."""
    told = sum(p * max(row[s] for row in payoffs) for s, p in enumerate(chances))
    return told - best_mean(chances, payoffs)


def worth_of_test(
    chances: list[float], payoffs: list[list[float]], likelihood: list[list[float]]
) -> float:
    """Return what a test is worth; one row of result chances for each state."""
    told = 0.0
    for result in range(len(likelihood[0])):
        joint = [p * row[result] for p, row in zip(chances, likelihood, strict=True)]
        told += max(mean(joint, row) for row in payoffs)
    return told - best_mean(chances, payoffs)


def bayes(chances: list[float], likelihood: list[float]) -> list[float]:
    """Return the chances of the states once something has been seen."""
    joint = [p * seen for p, seen in zip(chances, likelihood, strict=True)]
    return [each / sum(joint) for each in joint]


def certainty_equivalent(
    chances: list[float], payoffs: list[float], *, risk_tolerance: float
) -> float:
    """Return the sure payoff that is as good as the lottery, by exponential utility."""
    utility = mean(chances, [exp(-x / risk_tolerance) for x in payoffs])
    return -risk_tolerance * log(utility)


# ---- kind of fish -----------------------------------------------------------------------------


def with_prior(raw: Table, workable: float) -> Table:
    """Return a copy of the scenario with another prior chance of a workable fish."""
    other = copy.deepcopy(raw)
    other.setdefault("fishing", {})["workable"] = workable
    return other


def value(raw: Table, *, workable: float) -> float:
    """Return V(p), the expected cost of the best rule by state [currency]."""
    scenario = endings.plain(with_prior(raw, workable))
    return rentals.best_rule_cost(scenario, since=rentals.beginning(scenario))


def worth_of_reading(
    raw: Table, *, reliability: float, reliability_stubborn: float | None = None
) -> float:
    """Return what a reading on the kind of fish is worth before its price [currency]."""
    p = float(endings.plain(raw)["fishing"]["workable"])
    r1 = reliability
    r2 = reliability if reliability_stubborn is None else reliability_stubborn
    told = 0.0
    for if_workable, if_stubborn in ((r1, 1.0 - r2), (1.0 - r1, r2)):
        chance = p * if_workable + (1.0 - p) * if_stubborn
        if chance > 0.0:
            told += chance * value(raw, workable=p * if_workable / chance)
    return value(raw, workable=p) - told


def worth_of_kind(raw: Table) -> float:
    """Return what knowing the kind of fish for certain is worth [currency]."""
    return worth_of_reading(raw, reliability=1.0)


def price_of_reading(raw: Table, reading: Table) -> float:
    """Return what a reading costs in time and charges [currency]."""
    day = float(job.spread(raw) + job.fishing_day(raw))
    return float(reading.get("hours", 0.0) / job.HOURS_PER_DAY * day + reading.get("cost", 0.0))


# ---- one uncertain input ----------------------------------------------------------------------


def with_value(raw: Table, path: str, number: Any) -> Table:
    """Return a copy of the scenario with a number at a key path such as run.1.charge."""
    other = copy.deepcopy(raw)
    node: Any = other
    *steps, last = path.split(".")
    for step in steps:
        node = node[int(step) - 1] if isinstance(node, list) else node[step]
    if isinstance(node, list):
        node[int(last) - 1] = number
    else:
        node[last] = number
    return other


def all_cases(raw: Table) -> list[tuple[float, dict[str, float], list[float]]]:
    """Return chance, values by key path, and costs by limit of every case of discrete inputs."""
    inputs = {".".join(path): table for path, table in endings.distributions(raw)}
    if any(set(table) != {"values", "weights"} for table in inputs.values()):
        raise ValueError("only discrete inputs {values, weights} can be listed")
    cases = []
    for picked in product(*(range(len(table["values"])) for table in inputs.values())):
        scenario, chance, values = raw, 1.0, {}
        for (path, table), which in zip(inputs.items(), picked, strict=True):
            values[path] = float(table["values"][which])
            chance *= table["weights"][which] / sum(table["weights"])
            scenario = with_value(scenario, path, values[path])
        cases.append((chance, values, rentals.expected_costs_with_rentals(scenario)))
    return cases


def costs_by_limit(cases: list[tuple[float, dict[str, float], list[float]]]) -> list[float]:
    """Return the mean cost of each limit over `cases`."""
    total = sum(chance for chance, _, _ in cases)
    limits = range(len(cases[0][2]))
    return [sum(chance * costs[n] for chance, _, costs in cases) / total for n in limits]


def worth_of_input(raw: Table, path: str) -> float:
    """Return what knowing the discrete input at `path` is worth before a limit is set [currency].

    Every other uncertain input, discrete too, is averaged over.
    """
    cases = all_cases(raw)
    told = 0.0
    for known in {values[path] for _, values, _ in cases}:
        agreeing = [case for case in cases if case[1][path] == known]
        chance = sum(case[0] for case in agreeing)
        told += chance * min(costs_by_limit(agreeing))
    return min(costs_by_limit(cases)) - told
