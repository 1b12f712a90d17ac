"""Text for the cell of a spreadsheet, such that no program takes it for a formula.

A spreadsheet runs a cell that begins with = + - or @ when it opens a CSV file, also in full width
or small form, and some strip blanks, tabs and line ends before they look. A leading apostrophe
marks the cell as text (OWASP, CSV Injection).
"""

from __future__ import annotations

import re
import unicodedata

STARTS_FORMULA = frozenset("=+-@")
CONTROLS = ("\t", "\r", "\n")  # before them a spreadsheet may take the rest for another cell
NEGATIVE = re.compile(r"-[0-9.][0-9_.]*([eE][+-]?[0-9]+)?")


def harmless(text: str) -> str:
    """The text, with an apostrophe before it where a spreadsheet could run it; a negative
    number stays as it is.

    >>> harmless("=1+1"), harmless(" @SUM(A1)"), harmless("-5.5"), harmless("Overshot")
    ("'=1+1", "' @SUM(A1)", '-5.5', 'Overshot')
    """
    if NEGATIVE.fullmatch(text):
        return text
    # The first character that shows: blanks, controls and marks of no width come before it.
    first = next((char for char in text if char.isprintable() and not char.isspace()), "")
    runs = unicodedata.normalize("NFKC", first)[:1] in STARTS_FORMULA if first else False
    return f"'{text}" if runs or text.startswith(CONTROLS) else text


def meant(text: str) -> str:
    """The text of a cell without the apostrophe that `harmless` put before it.

    >>> meant("'=1+1"), meant("'-attached"), meant("'t Zand"), meant("-5.5")
    ('=1+1', '-attached', "'t Zand", '-5.5')
    """
    return text[1:] if text.startswith("'") and harmless(text[1:]) == text else text
