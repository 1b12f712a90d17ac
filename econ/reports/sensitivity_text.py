"""The sensitivity as plain ASCII text that fits a phone and can be pasted into an e-mail."""

from __future__ import annotations

import math

from econ.decision.sensitivity import BreakEven, Input, LimitMap, Sensitivity, Side, Swing
from econ.reports.after_log import ended, over, since
from econ.reports.amounts import Amounts, number
from econ.reports.cautions import SHORT
from econ.reports.sensitivity_tables import STEPS
from econ.reports.sentences import BY_LIST
from econ.reports.words import more_runs, one_line, runs, wrap

LISTED = 10  # amounts of a table; the others move less
LEAST_SHARE = 0.01  # of the variance of the cost: a smaller index is not listed
PURE = ("fraction", "ratio")  # units that need no word


def sensitivity_text(sensitivity: Sensitivity) -> str:
    """The whole sensitivity: cost, then the limit, then what would flip the verdict."""
    largest = max(
        [sensitivity.now.value, sensitivity.best_cost.value]
        + [
            side.cost.value
            for swing in (*sensitivity.amounts, *sensitivity.swings)
            for side in _ends(swing)
        ]
    )
    money = Amounts(largest=largest, currency=sensitivity.scenario.currency)
    parts = [
        _head(sensitivity, money),
        _cost(sensitivity, money),
        _limit(sensitivity, money),
        _drivers(sensitivity, money),
        _flips(sensitivity, money),
        _map(sensitivity, money),
        _knowing(sensitivity, money),
        _importance(sensitivity, money),
        wrap(SHORT[0]),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _ends(swing: Swing) -> tuple[Side, Side]:
    return swing.low, swing.high


def _head(sensitivity: Sensitivity, money: Amounts) -> list[str]:
    judged = sensitivity.verdict
    lines = ["WHAT MOVES THE COST, AND WHAT MOVES THE LIMIT"]
    lines += over(sensitivity.log)
    lines += wrap(one_line(sensitivity.scenario.job.well))
    lines += since(sensitivity.scenario, sensitivity.log)
    best, now = money.short(sensitivity.best_cost.value), money.short(sensitivity.now.value)
    if sensitivity.best:
        lines += wrap(
            f"As it stands: at most {more_runs(sensitivity.best)}, expected cost {best} "
            f"{money.unit}; stopping now costs {now}."
        )
    elif ended(sensitivity.log) is None:
        lines += wrap(f"As it stands: stop now, expected cost {now} {money.unit}.")
    else:
        lines += wrap(f"What is left to do costs {now} {money.unit} in expectation.")
    if judged.cost_of_minimum > 0:
        required = runs(sensitivity.least_runs)
        lines += wrap(
            f"{required} must be made; without that it would cost "
            f"{money.short(judged.cost_of_minimum)} less."
        )
    if judged.not_told_apart:
        others = ", ".join(str(n) for n in judged.not_told_apart)
        lines += wrap(f"UNRESOLVED: limits of {others} runs are not told apart from it.")
    settings = sensitivity.scenario.draws
    lines += wrap(
        f"Both sides of every comparison have the same random numbers: {settings.scrambles} "
        f"scrambles of {sensitivity.draws} draws, seed {settings.seed}. A change smaller than its "
        "error is called unresolved."
    )
    listed = len(sensitivity.scenario.run) > 1 and ended(sensitivity.log) is None
    return lines + (wrap(BY_LIST) if listed else [])


def _cost(sensitivity: Sensitivity, money: Amounts) -> list[str]:
    lines = [f"COST: YOUR RANGES, limit kept at {runs(sensitivity.best)} ({money.unit})"]
    if not sensitivity.amounts:
        return [*lines, *wrap("Every amount of the file is a single number: no range.")]
    lines.append("  at P10  at P90   amount, from its P10 to its P90")
    for swing in sensitivity.amounts[:LISTED]:
        changes = "".join(f"{_change(side, money):>8}" for side in _ends(swing))
        mark = (" *" if swing.linked else "") + (" ^" if swing.after_log else "")
        lines.append(f"{changes}   {swing.name}{mark}")
        values = " to ".join(_value(swing, side) for side in _ends(swing))
        lines.append(f"{'':19}{values} {_unit(swing, money)}".rstrip())
    error = max(side.change_kept.error for swing in sensitivity.amounts for side in _ends(swing))
    lines += wrap(f"+ is dearer. Standard errors are at most {_error(error, money)}.")
    rest = sensitivity.amounts[LISTED:]
    if rest:
        most = money.short(max(swing.size for swing in rest))
        lines += wrap(f"The other {len(rest)} move it by at most {most} each (see --json).")
    if any(swing.linked for swing in sensitivity.amounts[:LISTED]):
        lines += wrap("* moved together with the amounts it is correlated with.")
    if any(swing.after_log for swing in sensitivity.amounts[:LISTED]):
        lines += wrap(
            "^ the log bears on it: its P10 and P90 are those after the log, each draw weighted by "
            "how likely it makes what happened."
        )
    return lines


def _limit(sensitivity: Sensitivity, money: Amounts) -> list[str]:
    if not sensitivity.amounts or sensitivity.cost.shape[1] == 1:
        return []
    lines = [f"LIMIT: YOUR RANGES, best limit now {sensitivity.best}"]
    moving = [swing for swing in sensitivity.amounts if swing.moves_limit]
    unsure = [
        swing.name
        for swing in sensitivity.amounts
        if not swing.moves_limit and any(side.best != sensitivity.best for side in _ends(swing))
    ]
    if moving:
        lines.append("  at P10  at P90   amount (what setting the limit anew saves)")
        for swing in moving:
            limits = "".join(f"{side.best:>8}" for side in _ends(swing))
            saved = [
                f"{money.short(side.worth_setting_anew)} at P{percent}"
                for side, percent in zip(_ends(swing), (10, 90), strict=True)
                if side.limit_resolved
            ]
            lines += [f"{limits}   {swing.name}", f"{'':19}{', '.join(saved)}"]
    if unsure:
        lines += wrap(f"UNRESOLVED, within the error: {', '.join(unsure)}.", hang=2)
    rest = len(sensitivity.amounts) - len(moving) - len(unsure)
    if rest:
        which = "of the other" if moving or unsure else "of the"
        lines += wrap(f"None {which} {rest} moves it, neither at its P10 nor at its P90.")
    return lines


def _drivers(sensitivity: Sensitivity, money: Amounts) -> list[str]:
    lines = [f"MAIN DRIVERS ({money.unit})", *wrap(f"Each turned alone, by {STEPS}.")]
    lines.append("                              cost, limit kept  best limit")
    lines.append("                        step     low    high    low   high")
    for swing in sensitivity.swings:
        driver = sensitivity.input(swing.name)
        step = " / ".join(_setting(driver, value) for value in driver.step)
        costs = "".join(f"{_change(side, money):>8}" for side in _ends(swing))
        limits = "".join(f"{side.best:>6}{_mark(side, sensitivity.best)}" for side in _ends(swing))
        lines.append(f"{swing.words:<17}{step:>14}{costs}{limits}".rstrip())
    if any(driver.name == "all_odds" for driver in sensitivity.inputs):
        lines += wrap("odds of all runs: a factor on p/(1 - p) of each.")
    if any(
        _mark(side, sensitivity.best) == "?"
        for swing in sensitivity.swings
        for side in _ends(swing)
    ):
        lines += wrap("?: not told apart from the limit now.")
    return lines


def _mark(side: Side, best: int) -> str:
    """A question mark where a limit differs from the base's by less than the error."""
    return "?" if side.best != best and not side.limit_resolved else " "


def _flips(sensitivity: Sensitivity, money: Amounts) -> list[str]:
    if not sensitivity.break_evens:
        return []
    lines = ["WHERE THE VERDICT FLIPS, each driver turned alone"]
    for driver in sensitivity.inputs:
        mine = [each for each in sensitivity.break_evens if each.input == driver.name]
        if not mine:
            continue
        lines.append(f"{driver.words}, now {_amount(driver, driver.now, money)}")
        by_rule: dict[str, list[str]] = {
            rule: [_flip(driver, each, money) for each in mine if each.rule == rule]
            for rule in dict.fromkeys(each.rule for each in mine)
        }
        said = list(by_rule.values())
        if len(said) > 1 and said[0] == said[1]:
            by_rule = {"either way": said[0]}
        for rule, flips in by_rule.items():
            lines += wrap(f"  {rule}: {'; '.join(flips)}", hang=4)
    lines += wrap(
        "one run: the next run, mobilization included, then stop. best limit: as many runs as pay."
    )
    if sensitivity.least_runs:
        lines += wrap(
            "Runs that must be made are left out of this: it says where fishing would pay by "
            "itself."
        )
    return lines


def _flip(driver: Input, each: BreakEven, money: Amounts) -> str:
    if each.at is None:
        ends = f"{_setting(driver, each.least)} to {_setting(driver, each.most)}"
        return f"no flip, {each.below} from {ends}"
    at = _amount(driver, each.at, money)
    return f"{each.below} below {at}, {each.above} above"


def _map(sensitivity: Sensitivity, money: Amounts) -> list[str]:
    table = sensitivity.map
    if table is None:
        return []
    row, column = sensitivity.input(table.row), sensitivity.input(table.column)
    lines = [
        "MAP OF THE BEST LIMIT (runs)",
        f"down: {row.words}; across: {column.words}",
        f"{'':8}" + "".join(f"{_setting(column, value):>6}" for value in table.columns),
    ]
    for i, value in enumerate(table.rows):
        cells = "".join(_digit(table, i, j) for j in range(len(table.columns)))
        lines.append(f"{_setting(row, value):>8}{cells}".rstrip())
    here = "; ".join(f"{each.words} {_amount(each, each.now, money)}" for each in (row, column))
    lines += wrap(f"[ ] as it stands: {here}. ?: another limit comes within the error.")
    if sensitivity.least_runs:
        lines += wrap(f"At least {runs(sensitivity.least_runs)}, as required.")
    return lines


def _digit(table: LimitMap, i: int, j: int) -> str:
    best = str(table.best[i][j]) + ("" if table.resolved[i][j] else "?")
    return f"[{best}]".rjust(6) if (i, j) == table.here else f"{best:>5} "


def _knowing(sensitivity: Sensitivity, money: Amounts) -> list[str]:
    if not sensitivity.amounts:
        return []
    worth = [each for each in sensitivity.worths if each.worth > 0]
    lines = [f"WORTH OF KNOWING AN AMOUNT FIRST ({money.unit})"]
    if not worth:
        return [*lines, *wrap("Nothing, beyond the error: no range changes what to do.")]
    for each in worth[:LISTED]:
        limits = sorted(set(each.limits))
        what = f"limit {' or '.join(map(str, limits))}" if len(limits) > 1 else "another fallback"
        lines.append(f"{money.short(each.worth):>8}   {each.name}: {what}")
    error = max(each.error for each in worth)
    lines += wrap(
        f"Standard errors are at most {_error(error, money)}. The other "
        f"{len(sensitivity.worths) - len(worth)}: nothing beyond the error. Known before the limit "
        "is set, to the nearest sixteenth of its chances; what it costs to learn is not taken off."
    )
    return lines


def _importance(sensitivity: Sensitivity, money: Amounts) -> list[str]:
    listed = [each for each in sensitivity.importance.inputs if each.total >= LEAST_SHARE]
    if sensitivity.indices_left_out:
        return wrap(
            "Where the spread of the cost comes from is not worked out after this log: what it "
            "says binds amounts together, and the indices need independent ones."
        )
    if not listed:
        return []
    deviation = money.full(sensitivity.importance.deviation)
    lines = wrap(
        f"WHERE THE SPREAD OF THE EXPECTED COST COMES FROM (standard deviation {deviation}, at "
        f"{runs(sensitivity.best)})"
    )
    lines.append("  alone        with others    % of the variance, 95 % interval")
    for each in listed[:LISTED]:
        name = each.names[0] if len(each.names) == 1 else f"{len(each.names)} correlated amounts:"
        shares = _share(each.first, each.first_interval), _share(each.total, each.total_interval)
        lines.append(f"{shares[0]:<13}{shares[1]:<13}  {name}")
        if len(each.names) > 1:
            lines += [f"{'':28}  {other}" for other in each.names]
    rest = len(sensitivity.importance.inputs) - len(listed[:LISTED])
    if rest:
        lines += wrap(f"The other {rest} inputs count for less.")
    lines += wrap(
        "Sobol' indices of your ranges: what each does alone, and with all it acts together with. "
        "The luck of the runs is not in it."
    )
    if sensitivity.linked:
        lines += wrap("Indices need independent inputs: correlated amounts count as one.")
    return lines


def _share(index: float, interval: tuple[float, float]) -> str:
    low, high = (min(max(end, 0.0), 1.0) for end in interval)
    return f"{100 * max(index, 0.0):4.0f} [{100 * low:.0f}-{100 * high:.0f}]"


def _error(error: float, money: Amounts) -> str:
    """A standard error in the digits of the table, rounded up."""
    last = money.scale * 0.1**money.decimals
    return money.short(math.ceil(error / last) * last)


def _change(side: Side, money: Amounts) -> str:
    if not side.resolved:
        return "unres."
    shown = money.short(side.change_kept.value)
    return shown if shown.startswith("-") else f"+{shown}"


def _setting(driver: Input, value: float) -> str:
    """A value of a driver, short."""
    return f"x{value:z.2f}" if driver.factor else f"{value:z.2f}"


def _amount(driver: Input, value: float, money: Amounts) -> str:
    """A value of a driver, as an amount where it stands for one."""
    if driver.amount is None:
        return _setting(driver, value)
    amount = driver.amount * value
    if driver.unit == "currency":
        shown = f"{money.short(amount)} {money.unit}"
    elif driver.unit == "currency/d":
        shown = f"{number(amount)} {money.currency}/d"
    else:
        shown = f"{number(amount)} {driver.unit}"
    return f"{shown} ({_setting(driver, value)})" if driver.factor else shown


def _value(swing: Swing, side: Side) -> str:
    """The value of an amount at one end."""
    return f"{side.value:z.2f}" if swing.unit in PURE else number(side.value)


def _unit(swing: Swing, money: Amounts) -> str:
    return "" if swing.unit in PURE else swing.unit.replace("currency", money.currency)
