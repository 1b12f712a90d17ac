"""Workable and stubborn fish told apart from what became of the runs on each job.

Nobody wrote down of which kind a fish was. But runs on one fish share it: where fish differ,
jobs that fail once fail again more often than chance would have it. For a job with runs of
kinds i(1), i(2), ... elapsed x days at each, independent given the kind of fish,
    A = w product p^s (1 - p)^(1 - s)        logit p = a_i + g x      the fish is workable
    B = (1 - w) product q^s (1 - q)^(1 - s)  logit q = b_i + g x      it is stubborn
    l = sum over jobs of log(A + B)
with s = 1 for a run that recovered. A job stopped for economics ends its product there: the
stop depends on runs already seen, so it says no more about the fish. Direct likelihood; Newton's
method with damping, from several starts, because l may have more than one peak.

The prior of the trade (`econ.records.trade`) is added to l: a normal on the logits of w, p, q. It
keeps l in bounds where a kind of run is rare, and counts a few runs; g is normal with sd 1 a day.
Intervals are taken with a lighter prior, and cover with it (tests/benchmarks/coverage.py).
Labels: workable is the kind of fish with the higher odds, weighted by the runs made.

Intervals: where twice the drop of l below its peak, the other parameters at their best, reaches
3.84 (profile likelihood). A `weight` is that of a Beta no tighter than this interval, and no more
than the cases there are with those that the prior counts.
Told apart or not: twice the gain over one kind of fish (p = q), against the same gain in
records simulated from one kind of fish; no chi-square, since w = 0 is an edge (see `apart`).

Source: G.J. McLachlan, D. Peel, Finite Mixture Models, 2000, chapters 2 and 6 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.special import expit, logit

from econ.records.trade import Prior

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
SLOPE = 1.0  # sd of g [1/d]
MOST_STEPS = 200
SETTLED = 1e-9  # of l, in one step
STARTS = ((0.0, 2.5), (-1.0, 2.0))  # logit w, and a less b
MANY = 20_000  # cells
LIMIT = 3.841459  # 0.95 of chi-square with one degree


@dataclass(frozen=True, eq=False)
class Cells:
    """Runs of one kind on one fish counted together; arrays of shape (cells,).

    job: place of the job, or of a group of `times` jobs with the same counts, rising; prior: of
    (logit w, a, b), shape (2 kinds + 1,).
    """

    job: Ints
    kind: Ints
    made: Array
    won: Array
    days: Array | None  # [d], one run a cell; None: elapsed time is left out
    times: Array  # shape (jobs,)
    prior: Prior

    @property
    def kinds(self) -> int:
        """Number of kinds of run."""
        return len(self.prior.centre) // 2

    @property
    def jobs(self) -> int:
        """Number of jobs or groups."""
        return len(self.times)


@dataclass(frozen=True, eq=False)
class Peak:
    """Parameters (logit w, a, b, and g if days count), l with the priors there, and curvature."""

    at: Array
    height: float
    curvature: Array  # minus the second derivatives of l, shape (parameters, parameters)


def group(job: Ints, kind: Ints, won: NDArray[np.bool_], prior: Prior) -> Cells:
    """Cells of jobs with the same counts taken together; `job` rises from 0."""
    jobs, kinds = int(job[-1]) + 1, len(prior.centre) // 2
    table = np.zeros((jobs, 2 * kinds), dtype=np.int64)
    np.add.at(table, (job, kind), 1)
    np.add.at(table, (job, kind + kinds), won.astype(np.int64))
    same, times = np.unique(table, axis=0, return_counts=True)
    place, which = np.nonzero(same[:, :kinds])
    made = same[place, which].astype(float)
    won_of = same[place, which + kinds].astype(float)
    return Cells(place, which, made, won_of, None, times.astype(float), prior)


def with_days(job: Ints, kind: Ints, won: NDArray[np.bool_], days: Array, prior: Prior) -> Cells:
    """Cells of one run each, with the days elapsed before it."""
    ones = np.ones(len(job))
    return Cells(job, kind, ones, won.astype(float), days, np.ones(int(job[-1]) + 1), prior)


def belief(cells: Cells, at: Array) -> Array:
    """Chance that the fish of each job or group is workable, given its runs; shape (jobs,)."""
    log_a, log_b, _, _ = _logs(cells, at)
    return np.asarray(expit(log_a - log_b))


def _logs(cells: Cells, at: Array) -> tuple[Array, Array, Array, Array]:
    """log A and log B of each job, p and q of each cell."""
    k = cells.kinds
    drift = 0.0 if cells.days is None else at[2 * k + 1] * cells.days
    eta, theta = at[1 : k + 1][cells.kind] + drift, at[k + 1 : 2 * k + 1][cells.kind] + drift
    of_cell = [cells.won * each - cells.made * np.logaddexp(0.0, each) for each in (eta, theta)]
    log_a = np.bincount(cells.job, of_cell[0], minlength=cells.jobs) - np.logaddexp(0, -at[0])
    log_b = np.bincount(cells.job, of_cell[1], minlength=cells.jobs) - np.logaddexp(0, at[0])
    return log_a, log_b, expit(eta), expit(theta)


def height(cells: Cells, at: Array) -> float:
    """l with the priors at the parameters."""
    log_a, log_b, _, _ = _logs(cells, at)
    return float(cells.times @ np.logaddexp(log_a, log_b)) - _prior(cells, at)[0]


def _prior(cells: Cells, at: Array) -> tuple[float, Array, Array]:
    """Minus the log of the prior, its slope and its curvature."""
    size = len(cells.prior.centre)
    curvature = np.zeros((len(at), len(at)))
    curvature[:size, :size] = cells.prior.precision
    if cells.days is not None:
        curvature[-1, -1] = SLOPE**-2
    off = at.copy()
    off[:size] -= cells.prior.centre
    slope = curvature @ off
    return float(0.5 * off @ slope), slope, curvature


def derivatives(cells: Cells, at: Array) -> tuple[float, Array, Array]:
    """l with the priors, its slope, and minus its second derivatives."""
    k, days, job = cells.kinds, cells.days, cells.job
    log_a, log_b, p, q = _logs(cells, at)
    t = expit(log_a - log_b)  # belief
    w = expit(at[0])
    count = cells.times
    u, v = cells.won - cells.made * p, cells.won - cells.made * q
    here_a, here_b = (count * t)[job], (count * (1 - t))[job]
    slope = np.zeros(len(at))
    slope[0] = count @ (t - w)
    slope[1 : k + 1] = np.bincount(cells.kind, here_a * u, minlength=k)
    slope[k + 1 : 2 * k + 1] = np.bincount(cells.kind, here_b * v, minlength=k)
    spread_a, spread_b = here_a * cells.made * p * (1 - p), here_b * cells.made * q * (1 - q)
    own = np.concatenate(
        [
            [count.sum() * w * (1 - w)],
            np.bincount(cells.kind, spread_a, minlength=k),
            np.bincount(cells.kind, spread_b, minlength=k),
        ]
    )
    curvature = np.zeros((len(at), len(at)))
    np.fill_diagonal(curvature[: 2 * k + 1, : 2 * k + 1], own)
    if days is not None:
        slope[-1] = (here_a * u + here_b * v) @ days
        across = np.concatenate(
            [
                np.bincount(cells.kind, spread_a * days, minlength=k),
                np.bincount(cells.kind, spread_b * days, minlength=k),
            ]
        )
        curvature[1:-1, -1] = curvature[-1, 1:-1] = across
        curvature[-1, -1] = (spread_a + spread_b) @ days**2
    curvature -= _between(cells, u, v, count * t * (1 - t))
    against, against_slope, against_curvature = _prior(cells, at)
    value = float(count @ np.logaddexp(log_a, log_b)) - against
    return value, slope - against_slope, curvature + against_curvature


def _between(cells: Cells, u: Array, v: Array, weight: Array) -> Array:
    """Sum over jobs of weight x d d', d the slope of log A less that of log B."""
    k, job, each = cells.kinds, cells.job, np.arange(cells.jobs)
    drift = [] if cells.days is None else [np.bincount(job, (u - v) * cells.days, cells.jobs)]
    size = 2 * k + 1 + len(drift)
    if cells.jobs < MANY // 10:
        d = np.zeros((cells.jobs, size))
        d[:, 0] = 1.0
        np.add.at(d, (job, 1 + cells.kind), u)
        np.add.at(d, (job, 1 + k + cells.kind), -v)
        if drift:
            d[:, -1] = drift[0]
        return np.asarray((d * weight[:, None]).T @ d)
    rows = np.concatenate([each, job, job, *[each] * len(drift)])
    last = [np.full(cells.jobs, size - 1)] * len(drift)
    columns = np.concatenate([0 * each, 1 + cells.kind, 1 + k + cells.kind, *last])
    values = np.concatenate([np.ones(cells.jobs), u, -v, *drift])
    entries = (values * np.sqrt(weight)[rows], (rows, columns))
    scaled = csr_array(entries, shape=(cells.jobs, size))
    return np.asarray((scaled.T @ scaled).toarray())


def climb(cells: Cells, start: Array, *, held: int | None = None) -> Peak:
    """The peak of l reached from `start`, with one parameter held if asked."""
    free = np.arange(len(start)) != held
    at = np.array(start, dtype=float)
    value, slope, curvature = derivatives(cells, at)
    damping = 1e-3
    for _ in range(MOST_STEPS):
        inner = curvature[np.ix_(free, free)]
        step = np.zeros(len(at))
        lift = damping * np.eye(len(inner))
        try:
            np.linalg.cholesky(inner + lift)
            step[free] = np.linalg.solve(inner + lift, slope[free])
        except np.linalg.LinAlgError:  # not a hill here: lean towards the slope
            damping = max(damping * 10, 1e-3)
            continue
        longest = float(np.abs(step).max())
        step *= min(1.0, 3.0 / longest) if longest > 0 else 1.0
        found = derivatives(cells, at + step)
        if found[0] < value - 1e-12 * abs(value):
            damping *= 10
            if damping > 1e12:
                break
            continue
        gain = found[0] - value
        at, (value, slope, curvature), damping = at + step, found, damping / 10
        if gain < SETTLED and float(np.abs(step).max()) < 1e-4:
            break
    return Peak(at, value, curvature)


def one_kind(cells: Cells) -> Peak:
    """The peak with one kind of fish: a_i = b_i. w is then idle, and left out of the height."""
    k = cells.kinds
    won = np.bincount(cells.kind, cells.won * cells.times[cells.job], minlength=k)
    made = np.bincount(cells.kind, cells.made * cells.times[cells.job], minlength=k)
    overall = logit((won.sum() + 0.5) / (made.sum() + 1.0))
    start = np.full(2 * k + 1 + (cells.days is not None), overall)
    start[0] = 0.0
    if cells.days is not None:
        start[-1] = 0.0
    share = np.zeros((len(start), k + 1 + (cells.days is not None)))
    share[0, 0] = 1.0
    share[np.arange(1, k + 1), np.arange(1, k + 1)] = 1.0
    share[np.arange(k + 1, 2 * k + 1), np.arange(1, k + 1)] = 1.0
    if cells.days is not None:
        share[-1, -1] = 1.0
    at = start
    _, slope, curvature = derivatives(cells, at)
    for _ in range(MOST_STEPS):
        inner = share.T @ curvature @ share + 1e-9 * np.eye(share.shape[1])
        step = share @ np.linalg.solve(inner, share.T @ slope)
        size = min(1.0, 3.0 / max(float(np.abs(step).max()), 1e-12))
        at = at + size * step
        _, slope, curvature = derivatives(cells, at)
        if float(np.abs(step).max()) < 1e-7:
            break
    return Peak(at, height(cells, at), curvature)


def two_kinds(cells: Cells, alone: Peak, near: Peak | None = None) -> Peak:
    """The highest peak found with two kinds of fish, workable the better one.

    near: a peak of the same records without days, to start from as well. Where cells are very
    many l has one clear peak, and fewer starts are made.
    """
    k = cells.kinds
    best: Peak | None = None
    starts = [] if near is None else [np.append(near.at, alone.at[-1])]
    for share, apart in STARTS:
        start = alone.at.copy()
        start[0] = share
        up = expit(share)
        start[1 : k + 1] += apart * (1 - up)
        start[k + 1 : 2 * k + 1] -= apart * up
        starts.append(start)
    starts.append(np.concatenate([cells.prior.centre, alone.at[2 * k + 1 :]]))
    if len(cells.job) >= MANY:
        starts = starts[:2]
    made = np.bincount(cells.kind, cells.made * cells.times[cells.job], minlength=k)
    while starts:
        start = starts.pop(0)
        found = climb(cells, start)
        p, q = expit(found.at[1 : k + 1]), expit(found.at[k + 1 : 2 * k + 1])
        if made @ (p - q) >= 0:
            if best is None or found.height > best.height + 1e-6:
                best = found
        elif best is None and not starts:
            best = climb(cells, _turned(found.at, k))
    assert best is not None
    return best


def _turned(at: Array, k: int) -> Array:
    """The same with workable and stubborn exchanged."""
    order = np.arange(len(at))
    order[1 : k + 1], order[k + 1 : 2 * k + 1] = np.arange(k + 1, 2 * k + 1), np.arange(1, k + 1)
    turned = at[order]
    turned[0] = -turned[0]
    return np.asarray(turned)


def interval(cells: Cells, peak: Peak, which: int) -> tuple[float, float]:
    """Profile interval of one parameter, on its own scale; infinite where l stays too high."""
    inverse = np.linalg.pinv(peak.curvature, hermitian=True)
    error = float(np.sqrt(max(inverse[which, which], 1e-8)))
    path = inverse[:, which] / max(inverse[which, which], 1e-12)
    low, high = (_side(cells, peak, which, path, sign * error) for sign in (-1.0, 1.0))
    return low, high


def _side(cells: Cells, peak: Peak, which: int, path: Array, error: float) -> float:
    """Where the root of the drop, which is nearly straight, reaches its limit on one side."""
    goal = float(np.sqrt(LIMIT))
    near, near_root, near_at = 0.0, 0.0, peak.at
    far: float | None = None
    far_root = 0.0
    step = goal * error
    for _ in range(40):
        start = near_at + path * (step - near)
        start[which] = peak.at[which] + step
        found = climb(cells, start, held=which)
        root = float(np.sqrt(max(0.0, 2 * (peak.height - found.height))))
        if abs(root - goal) < 2e-3:
            return float(peak.at[which] + step)
        if root < goal:
            near, near_root, near_at = step, root, found.at
            if abs(step) > 40:
                return float(np.copysign(np.inf, error))
        else:
            far, far_root = step, root
        if far is None:
            step = near * min(4.0, max(1.3, goal / max(near_root, 1e-3)))
        else:
            inside = (goal - near_root) / max(far_root - near_root, 1e-12)
            step = near + (far - near) * min(0.9, max(0.1, inside))
    return float(peak.at[which] + step)


def errors(peak: Peak) -> Array:
    """Standard error of each parameter by curvature."""
    inverse: Any = np.linalg.pinv(peak.curvature, hermitian=True)
    return np.sqrt(np.maximum(np.diag(inverse), 1e-12))
