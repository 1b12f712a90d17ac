"""The memo as one HTML file: no script, no network, figures inside."""

from __future__ import annotations

import base64
from collections.abc import Mapping

from econ.reports import theme
from econ.reports.memo.content import Beside, Facts, Grid, Memo, Picture, Points
from econ.reports.offline import compiled


def html(memo: Memo, figures: Mapping[str, bytes]) -> bytes:
    """The memo with its `figures`, SVG by name, as UTF-8."""
    # Everything from a scenario goes through autoescape; nothing is marked safe.
    kinds = {Facts: "facts", Grid: "grid", Picture: "picture", Points: "points", Beside: "beside"}
    pictures = {
        name: "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")
        for name, svg in figures.items()
    }
    page = compiled("econ.reports.memo", "memo.html.j2").render(
        memo=memo,
        pictures=pictures,
        kind=lambda block: kinds[type(block)],
        theme={name: value for name, value in vars(theme).items() if name.isupper()},
    )
    return page.encode("utf-8", "replace")
