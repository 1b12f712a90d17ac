"""Exit codes of the command line, and the exception of a command that could not finish.

0 done, 1 could not finish (full disk, lost process), 2 bad input, 130 stopped by the user.
"""

from __future__ import annotations

STOPPED = 1
BAD_INPUT = 2
INTERRUPTED = 130


class UnfinishedError(Exception):
    """A command ends with exit code 1; its text is one line for the user."""


class ReaderGoneError(UnfinishedError):
    """Who read standard output has enough of it, such as `head`: no word is needed."""
