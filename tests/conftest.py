"""Puts this folder on the import path, so that every test can import the slow references.

Commands show exceptions and warnings here as Python does: a test fails by them. What a user sees
instead is tested in `tests/cli/test_endings.py`.
"""

from __future__ import annotations

import gc
import importlib
import os
from collections.abc import Iterator
from typing import Any

import pytest

os.environ.setdefault("ECON_STACK", "1")
# The tests and what they make once stay for good, so that a look for garbage among all of it finds
# next to nothing and takes a quarter of a second; by default that was a tenth of the whole time.
gc.set_threshold(2_000, 20, 100)


@pytest.fixture(scope="module")
def few_bins() -> Iterator[None]:
    """Few bins of a distribution, because the many of them take most of the time of a small job;
    for tests that look at no percentile, or compare percentiles of the same bins."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("econ.engine.histogram.BINS", 128)
        yield


@pytest.fixture(scope="module")
def few_states() -> Iterator[None]:
    """A plan from hardly any states beside each answer and each side of a what-if, because it takes
    up to half of the time of one; for tests that do not look at that plan."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("answer", "limits_then", "whatif"):
            module = importlib.import_module(f"econ.decision.{name}")
            patch.setattr(module, "FEW_STATES", 1)
            patch.setattr(module, "LITTLE", 20)
        yield


# Files whose tests ask for the same jobs, by how their names begin, and whom they go with.
TOGETHER = {
    "tests/reports/test_first_screen": "memo",
    "tests/reports/test_memo": "memo",
    "tests/reports/test_page": "page",
}


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Tests of a file stay in one process: what a file makes once is made once, and not by every
    process that pytest-xdist would hand some of its tests. Files are taken in their order, in which
    the last ones are quick, so that no process is left with a long one at the end."""
    if config.getvalue("dist") != "load":  # another way was asked for
        return None
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            return next((all_ for name, all_ in TOGETHER.items() if file.startswith(name)), file)

    config.option.loadscopereorder = False
    return ByFile(config, log)
