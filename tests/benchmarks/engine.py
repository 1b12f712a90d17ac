"""Benchmarks of the engine, as ratios within one run: python tests/benchmarks/engine.py

1. Processor time for the expected cost at the best limit, and for its P90, at equal standard
   error: a plain coin-flip Monte Carlo in vectorized NumPy over the engine.
2. One full answer over what NumPy and SciPy need to make the same random numbers and push
   them through the same quantile functions once.
3. Time and peak memory as draws and runs grow.
Written for reading, not for passing or failing: the machine may be shared.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from scipy import stats
from scipy.stats import qmc

import econ
from econ.decision.figures import walked
from econ.engine.inputs import Inputs
from econ.scenario import Scenario

TESTS = Path(__file__).parent.parent
sys.path.insert(0, str(TESTS))
FLIPS = 200_000


def ranged_a(n: int) -> dict[str, Any]:
    """Scenario A with ranges on rates, hours and drilling speed."""
    raw = tomllib.loads((TESTS / "data" / "scenario_a_check.toml").read_text(encoding="utf-8"))
    raw["rates"] = {"rig": {"low": 48_000, "likely": 53_000, "high": 58_000}}
    raw["fishing"]["day_rates"] = {"services": {"low": 6_000, "high": 8_800}}
    for run in raw["run"]:
        for trip in run["trips"]:
            work = trip["work"]
            trip["work"] = {"low": 0.6 * work, "likely": work, "high": 1.6 * work}
    raw["recovery"]["hours"] = {"low": 26, "likely": 34, "high": 45}
    raw["fallback"][0]["gross_rop"] = {"low": 28, "likely": 36, "high": 45}
    raw["draws"] = {"n": n, "seed": 7}
    return raw


def long_program(n: int, runs: int) -> dict[str, Any]:
    """Scenario A with its runs repeated to a program of `runs`."""
    raw = ranged_a(n)
    raw["run"] = [raw["run"][k % 5] for k in range(runs)]
    return raw


def processor_time(work: Callable[[], Any], times: int = 3) -> float:
    """Median processor seconds of a call."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return float(np.median(spent))


def equal_error(sizes: tuple[int, ...] = (2**10, 2**12, 2**14)) -> None:
    """Ratio of processor times at equal standard error."""
    from reference import coin_flip

    raw = ranged_a(1024)
    best = econ.answer(Scenario.model_validate(raw)).best
    rng = np.random.default_rng(1)
    seconds = processor_time(lambda: coin_flip.simulate(raw, n=FLIPS, rng=rng, limit_runs=best))
    cost = coin_flip.simulate(raw, n=FLIPS, rng=rng, limit_runs=best).total_cost
    mean_variance = float(np.var(cost)) / FLIPS
    p90s = [np.quantile(part, 0.9) for part in np.array_split(cost, 100)]
    p90_variance = float(np.var(p90s, ddof=1)) / 100
    print(f"coin flips: {FLIPS} in {seconds:.2f} s, error {np.sqrt(mean_variance):,.0f}")
    print("  draws x 16     s   error of mean   P90       ratio mean   ratio P90")
    for n in sizes:
        scenario = Scenario.model_validate(ranged_a(n))
        inputs = Inputs(scenario)
        ours = processor_time(lambda inputs=inputs: walked([inputs]))  # type: ignore[misc]
        row = econ.answer(scenario).by_runs[best]
        ratio = seconds * mean_variance / (ours * row.standard_error**2)
        ratio_p90 = seconds * p90_variance / (ours * row.p90_error**2)
        print(
            f"  {n:>10}{ours:>6.2f}{row.standard_error:>16.3f}{row.p90_error:>6.0f}"
            f"{ratio:>17,.0f}{ratio_p90:>12,.0f}"
        )


def over_sampling(n: int = 4096, runs: int = 12) -> None:
    """One full answer over making its random numbers once."""
    scenario = Scenario.model_validate(long_program(n, runs))
    inputs = Inputs(scenario)
    columns = inputs.sampler.columns

    def quantiles() -> None:
        for seed in range(inputs.sampler.scrambles):
            points = qmc.Sobol(len(columns), rng=np.random.default_rng(seed)).random(n)
            for column, u in zip(columns, points.T, strict=True):
                scipy_quantile(column.distribution, u)

    econ.answer(scenario)
    whole = processor_time(lambda: econ.answer(scenario))
    once = processor_time(quantiles)
    print(
        f"full answer, {n} draws x 16 x {runs} runs, {len(columns)} columns: {whole:.2f} s; "
        f"random numbers through SciPy once: {once:.2f} s; ratio {whole / once:.2f}"
    )


def scipy_quantile(distribution: Any, u: Any) -> Any:
    """The quantile function of general-purpose SciPy for a distribution of the engine."""
    name = type(distribution).__name__
    if name == "Pert":
        a, m, b = distribution.low, distribution.likely, distribution.high
        alpha, beta = 1 + 4 * (m - a) / (b - a), 1 + 4 * (b - m) / (b - a)
        return stats.beta.ppf(u, alpha, beta, loc=a, scale=b - a)
    if name == "Uniform":
        return stats.uniform.ppf(u, distribution.low, distribution.high - distribution.low)
    if distribution is None:
        return u
    raise TypeError(name)


def growth() -> None:
    """Time by draws and runs, and peak memory of 2^20 draws in a process of its own."""
    for n in (2**12, 2**13, 2**14):
        inputs = Inputs(Scenario.model_validate(long_program(n, 5)))
        print(f"{n:>8} draws x 16 x  5 runs: {processor_time(lambda i=inputs: walked([i])):.2f} s")  # type: ignore[misc]
    for runs in (5, 10, 20):
        inputs = Inputs(Scenario.model_validate(long_program(2**12, runs)))
        seconds = processor_time(lambda i=inputs: walked([i]))  # type: ignore[misc]
        print(f"{2**12:>8} draws x 16 x {runs:>2} runs: {seconds:.2f} s")
    subprocess.run([sys.executable, __file__, "--memory"], check=True)


def memory() -> None:
    """Peak memory of an answer at 2^20 draws a scramble."""
    start = time.process_time()
    econ.answer(Scenario.model_validate(ranged_a(2**20)))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"2^20 draws x 16 x 5 runs: {time.process_time() - start:.0f} s, peak {peak:.0f} MiB")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--memory", action="store_true", help="only the memory of 2^20 draws")
    parser.add_argument("--quick", action="store_true", help="only the first two, small")
    given = parser.parse_args()
    if given.memory:
        memory()
    elif given.quick:
        equal_error((2**10,))
        over_sampling(n=1024)
    else:
        equal_error()
        over_sampling()
        growth()
