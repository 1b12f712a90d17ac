"""What goes with success: repeats, elapsed time, mechanism and marks, as odds ratios.

    logit P(run recovers) = kind of run + b1 repeat + b2 days + mechanism + marks
    repeat   1 if the same kind of run was made before in the same job
    days     [d] from the start of the job to the start of the run
exp(b) is the odds ratio. Runs of one job share a fish and are not independent: the error comes
from sums over jobs (sandwich, with the factor G/(G - 1) x (n - 1)/(n - p) for G jobs, n runs,
p coefficients). An effect is left out, with the reason, where fewer than LEAST runs that
recovered or that did not stand on either side of it, where there are fewer than LEAST
recoveries for each coefficient, or where the fit runs off (separation).

These hold over all fish together. Stubborn fish stay longer, so a fall with repeats and days is
partly the sorting out of the workable ones; the factor per day that goes into a scenario is
fitted with two kinds of fish (`econ.records.fish_kinds`), not taken from here.

Sources: P. McCullagh, J.A. Nelder, Generalized Linear Models, 1989, section 4.4 (fit by
reweighted least squares); K.-Y. Liang, S.L. Zeger, Biometrika 73 (1986) 13 (error by clusters).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from econ.records.columns import MECHANISMS
from econ.records.records import Bools, Records

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
LEAST = 5
NORMAL = 1.959964
RUN_OFF = 8.0  # a coefficient beyond is a fit that has no end
MOST_STEPS = 50


@dataclass(frozen=True)
class Effect:
    """An odds ratio with its 95 % interval, against `against`."""

    name: str
    against: str
    ratio: float
    low: float
    high: float
    runs: int  # that the fit rests on
    jobs: int


@dataclass(frozen=True)
class Effects:
    """The odds ratios that the records carry, and why others are left out."""

    found: tuple[Effect, ...]
    left_out: tuple[tuple[str, str], ...]  # name and reason

    def to_frame(self) -> pd.DataFrame:
        """One row an odds ratio."""
        import pandas as pd

        names = list(Effect.__dataclass_fields__)
        return pd.DataFrame([vars(each) for each in self.found], columns=names)


@dataclass(frozen=True, eq=False)
class Fit:
    """Coefficients and their errors by clusters, shape (p,); finite: the fit has an end."""

    coefficients: Array
    errors: Array
    finite: bool


def logistic(design: Array, success: Bools, cluster: NDArray[np.int64]) -> Fit:
    """Logistic regression of `success`, shape (n,), on `design`, shape (n, p).

    cluster: what each row belongs to, whole numbers of shape (n,).
    """
    y = success.astype(float)
    size = design.shape[1]
    at = np.zeros(size)
    for _ in range(MOST_STEPS):
        p = expit(design @ at)
        information = design.T @ (design * (p * (1 - p))[:, None])
        step = np.linalg.lstsq(information, design.T @ (y - p), rcond=None)[0]
        at = at + step * min(1.0, 5.0 / max(float(np.abs(step).max()), 1e-12))
        if float(np.abs(step).max()) < 1e-10 or float(np.abs(at).max()) > 30:
            break
    p = expit(design @ at)
    information = design.T @ (design * (p * (1 - p))[:, None])
    finite = float(np.abs(at).max()) < RUN_OFF and np.linalg.cond(information) < 1e10
    if not finite:
        return Fit(at, np.full(size, np.nan), False)
    _, place = np.unique(cluster, return_inverse=True)
    groups, n = int(place.max()) + 1, len(y)
    sums = np.zeros((groups, size))
    np.add.at(sums, place, design * (y - p)[:, None])
    bread = np.linalg.inv(information)
    factor = groups / max(groups - 1, 1) * (n - 1) / max(n - size, 1)
    spread = factor * bread @ (sums.T @ sums) @ bread
    return Fit(at, np.sqrt(np.maximum(np.diag(spread), 0.0)), True)


def effects(records: Records) -> Effects:
    """The odds ratios of repeat, elapsed days, mechanism and marks."""
    won = records.recovered
    left_out: list[tuple[str, str]] = []
    columns: dict[str, tuple[str, Array]] = {}
    repeat = records.repeat > 0
    if _enough("repeat of a kind of run", repeat, won, left_out):
        columns["repeat of a kind of run"] = ("first of its kind in the job", repeat.astype(float))
    days = records.before / 24.0
    known = np.isfinite(days)
    if not known.any():
        left_out.append(("each day elapsed", "no job has its times"))
    elif _enough("each day elapsed", days > np.nanmedian(days), won & known, left_out, known):
        columns["each day elapsed"] = ("the day before", np.where(known, days, np.nan))
    columns |= _mechanisms(records, won, left_out)
    for word in sorted({word for words in set(records.marks) for word in words}):
        here = np.array([word in words for words in records.marks])
        if _enough(f"mark {word}", here, won, left_out):
            columns[f"mark {word}"] = ("without it", here.astype(float))
    used = np.ones(len(won), dtype=bool)
    for _, values in columns.values():
        used &= np.isfinite(values)
    kinds = _kind_columns(records, won, used)
    for name in list(columns):
        if min(won[used].sum(), (~won[used]).sum()) < LEAST * (kinds.shape[1] + len(columns)):
            del columns[name]
            left_out.append((name, f"fewer than {LEAST} recoveries for each effect"))
    if not columns:
        return Effects((), tuple(left_out))
    return _fitted(records, columns, kinds, used, left_out)


def _fitted(
    records: Records,
    columns: dict[str, tuple[str, Array]],
    kinds: Array,
    used: Bools,
    left_out: list[tuple[str, str]],
) -> Effects:
    design = np.column_stack([kinds, *[values for _, values in columns.values()]])[used]
    fit = logistic(design, records.recovered[used], records.job[used])
    if not fit.finite:
        more = [(name, "the fit has no end: it splits success from failure") for name in columns]
        return Effects((), (*left_out, *more))
    found = []
    jobs = len(np.unique(records.job[used]))
    for place, (name, (against, _)) in enumerate(columns.items(), start=kinds.shape[1]):
        middle, error = float(fit.coefficients[place]), float(fit.errors[place])
        ratio, low, high = (float(np.exp(middle + side * NORMAL * error)) for side in (0, -1, 1))
        found.append(Effect(name, against, ratio, low, high, int(used.sum()), jobs))
    return Effects(tuple(found), tuple(left_out))


def _enough(
    name: str,
    side: Bools,
    won: Bools,
    left_out: list[tuple[str, str]],
    known: Bools | None = None,
) -> bool:
    """Whether both sides of an effect hold enough of both outcomes; if not, why."""
    within = np.ones(len(side), dtype=bool) if known is None else known
    least = min(int((within & here & came).sum()) for here in (side, ~side) for came in (won, ~won))
    if least >= LEAST:
        return True
    left_out.append((name, f"fewer than {LEAST} runs with and without it, each way they ended"))
    return False


def _mechanisms(
    records: Records, won: Bools, left_out: list[tuple[str, str]]
) -> dict[str, tuple[str, Array]]:
    """A column for each mechanism with enough runs, against the one with most."""
    known = records.mechanism >= 0
    if not known.any():
        left_out.append(("mechanism", "no run has its mechanism"))
        return {}
    present, count = np.unique(records.mechanism[known], return_counts=True)
    base = int(present[np.argmax(count)])
    found = {}
    for place in present:
        here = records.mechanism == place
        name = f"mechanism {MECHANISMS[place]}"
        if place != base and _enough(name, here, won, left_out, known):
            values = np.where(known, here.astype(float), np.nan)
            found[name] = (f"mechanism {MECHANISMS[base]}", values)
    if not found and len(present) == 1:
        left_out.append(("mechanism", f"all are {MECHANISMS[base]}"))
    return found


def _kind_columns(records: Records, won: Bools, used: Bools) -> Array:
    """A column for each kind of run with enough runs of both outcomes, one for the rest."""
    columns = []
    rest = np.ones(len(won))
    for place in np.unique(records.kind):
        here = records.kind == place
        if min((here & used & won).sum(), (here & used & ~won).sum()) >= LEAST:
            columns.append(here.astype(float))
            rest[here] = 0.0
    if rest[used].any():
        columns.append(rest)
    return np.column_stack(columns)
