"""The AFE supplement as a workbook with live formulas, as a page, and as CSV tables."""

from econ.reports.workbook.afe_csv import TABLES, table_csv
from econ.reports.workbook.afe_html import page
from econ.reports.workbook.afe_xlsx import workbook

__all__ = ["TABLES", "page", "table_csv", "workbook"]
