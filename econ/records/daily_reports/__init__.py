"""Daily drilling reports in the open WITSML form turned into speeds, hours and past jobs.

    sources       files, folders and zips, each read as a stream
    drill_report  one XML file into reports
    timeline      the activities of a well one after another, no hour twice
    words         codes and words of several languages, from words.toml
    sorting       what each activity was, and how far the string moved in it
    values        speeds, hours and rates as percentiles
    trouble       stuck pipe, fishing and their consequences
    estimate      all of it
    fragment, draft   the files that are written
Nothing is fetched, and no text of a report goes anywhere but into the draft of past jobs.
"""

from econ.records.daily_reports.draft import draft_runs
from econ.records.daily_reports.estimate import DailyReports, daily
from econ.records.daily_reports.fragment import speeds_fragment

__all__ = ["DailyReports", "daily", "draft_runs", "speeds_fragment"]
