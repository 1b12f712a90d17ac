"""All that an answer says as text; what a test asserts of it stands somewhere in it."""

from __future__ import annotations

import econ


def text(answer: econ.Answer) -> str:
    """The whole text of an answer."""
    return econ.text(answer, full=True)
