"""What the trade plans with before any record: the prior of the odds.

The catalogue has a planning range for each kind of run i; its middle at the fair level is a
chance m_i on all fish. At a share w0 of workable fish it is split into p_i and q_i, whose odds are
R apart (`econ.job.methods.outcomes.by_kind`). The prior is normal on the logits of w, p_i, q_i,
and of m_i for odds in one table. Each is about these and worth W runs (W jobs for the share):

    variance of logit x = 1 / (W v),   v = x (1 - x), and 0.09 where that is less

COMMON of the variance of p_i is one shift for all kinds of run, because the fish of a company are
harder or easier than those of the trade for all its tools; the rest is a shift of each kind. The
same holds for q_i and for m_i. w, p and q are independent. So thin records stay near the trade,
and thick ones forget it: the prior counts W runs of each kind, the records all theirs.

Intervals are taken with APART in place of COMMON, and with LIGHT in place of W where W is more.
The middle of a rare kind may lean on the others and on the trade; but that they are alike, and that
this company is like the trade, is not known. An interval that took it for known would miss a
company or a kind unlike them (tests/benchmarks/coverage.py counts how often).

R is less here than in the odds of a run to paste (`split_ratio`): where fish hardly differ, odds
that lie far apart would learn too much from a failure. w0, R, W and COMMON are judgement, no
source; `tests/records/regret.py` measures what following them costs over truths of many sorts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray
from scipy.special import logit

from econ.job.methods.catalogue import catalogue, limit
from econ.job.methods.outcomes import by_kind

Array = NDArray[np.float64]
COMMON = 0.8
APART = 0.2
LIGHT = 0.5  # runs, and jobs
LEAST_VARIANCE = 0.09  # v; below a chance of 0.1 a logit would otherwise be hardly known
ORIGIN = "planning odds of the catalogue at the fair level, judgement, no source"


@dataclass(frozen=True, eq=False)
class Prior:
    """A normal on logits: the middle, shape (n,), and the inverse covariance, shape (n, n)."""

    centre: Array
    precision: Array


def usual_weight() -> float:
    """Runs that the trade's odds count unless another number is given.

    >>> usual_weight()
    5.0
    """
    return limit("weight")


def planned(kinds: Sequence[str]) -> Array:
    """Planning chance m of each kind of run [fraction], shape (kinds,).

    A kind that the catalogue does not have takes the middle one of its catches.

    >>> planned(["overshot", "wall_hook"]).round(3).tolist()
    [0.35, 0.225]
    """
    known = catalogue().kinds
    catches = [each.whole["fair"].middle for each in known.values() if each.purpose == "catch"]
    found = [
        known[kind].whole["fair"].middle if kind in known else median(catches) for kind in kinds
    ]
    least = limit("least_outcome")
    return np.asarray(np.clip(np.array(found, dtype=float), least, 1 - least))


def failures(kinds: Sequence[str]) -> Array:
    """How runs that do not recover end by the trade: shares [fraction], shape (kinds, 5).

    In the order part, nothing, top damaged, string lost, hole lost. A kind that the catalogue does
    not have is nothing but for the least of each.

    >>> failures(["overshot"]).round(3).tolist()
    [[0.085, 0.762, 0.108, 0.031, 0.015]]
    """
    known, least = catalogue().kinds, limit("least_outcome")
    rows = []
    for kind, whole in zip(kinds, planned(kinds), strict=True):
        facts = known.get(kind)
        spans = (
            ()
            if facts is None
            else (facts.part, facts.top_damaged, facts.string_lost, facts.hole_lost)
        )
        harm = np.maximum([each.middle for each in spans] or [0.0] * 4, least)
        nothing = max(1 - whole - harm.sum(), least)
        row = np.insert(harm, 1, nothing)
        rows.append(row / row.sum())
    return np.array(rows)


def in_one_table(kinds: Sequence[str], weight: float, *, common: float = COMMON) -> Prior:
    """Prior of logit m_i. weight: W [runs]; common: share of the variance that kinds have alike."""
    chance = planned(kinds)
    return Prior(np.asarray(logit(chance)), _inverse(_covariance(chance, weight, common)))


def in_two_tables(kinds: Sequence[str], weight: float, *, common: float = COMMON) -> Prior:
    """Prior of (logit w, logit p_i, logit q_i). weight: W [runs, and jobs for w]; common: share of
    the variance that kinds have alike."""
    share = limit("workable_share")
    split = [
        by_kind(float(chance), workable=share, ratio=limit("records_ratio"))
        for chance in planned(kinds)
    ]
    p, q = np.array(split).T
    size = len(kinds)
    covariance = np.zeros((2 * size + 1, 2 * size + 1))
    covariance[0, 0] = 1.0 / (weight * share * (1 - share))
    for start, chance in ((1, p), (size + 1, q)):
        covariance[start : start + size, start : start + size] = _covariance(chance, weight, common)
    centre = np.concatenate([[logit(share)], logit(p), logit(q)])
    return Prior(centre, _inverse(covariance))


def _inverse(covariance: Array) -> Array:
    return np.asarray(np.linalg.inv(covariance), dtype=np.float64)


def _covariance(chance: Array, weight: float, common: float) -> Array:
    error = 1.0 / np.sqrt(weight * np.maximum(chance * (1 - chance), LEAST_VARIANCE))
    alike = common + (1 - common) * np.eye(len(chance))
    return np.asarray(alike * np.outer(error, error))
