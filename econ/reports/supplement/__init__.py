"""The AFE supplement: quantity x price, as a workbook with formulas, as a page, as CSV tables,
and as a file that keeps the issue."""

from econ.reports.supplement.codes import Code, read_codes
from econ.reports.supplement.content import Supplement, supplement
from econ.reports.supplement.html import page
from econ.reports.supplement.rows import TABLES, issue_json, table_csv
from econ.reports.supplement.workbook import workbook

__all__ = [
    "TABLES",
    "Code",
    "Supplement",
    "issue_json",
    "page",
    "read_codes",
    "supplement",
    "table_csv",
    "workbook",
]
