"""Notes on speeds and hours from daily reports: what was taken from them, and what was kept."""

from __future__ import annotations

from collections.abc import Iterator

from econ.scenario.notes.registry import note
from econ.scenario.scenario import Scenario, dotted

MOST_UNMATCHED = 0.2  # share of the hours; with more, what the reports say is only a part of it


@note
def speeds_of_daily_reports(scenario: Scenario) -> Iterator[str]:
    """Every value that the reports know says where it is from."""
    told = scenario.from_reports
    if told is None:
        return
    for each in told.taken:
        yield f"{dotted(each.path)}: from daily reports ({told.source}): {each.told}"
    kept: dict[str, list[str]] = {}
    for each in told.values:
        if each.how == "kept":
            kept.setdefault(each.told, []).append(dotted(each.path))
    for why, paths in kept.items():
        yield f"daily reports not used for {', '.join(paths)}: {why}"
    if not told.taken:
        yield f"speeds_from = {told.file} changes nothing"
    if told.unmatched > MOST_UNMATCHED:
        yield (
            f"nothing is known of {told.unmatched:.0%} of the hours of the daily reports behind "
            f"{told.file}; speeds and hours rest on the others"
        )
