"""The what-if page: one HTML file with sliders, that opens from a disk without any network."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Sequence
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from econ.decision import Answer
from econ.decision.page_model import page_model
from econ.decision.sensitivity.break_even import BreakEven
from econ.reports import safety, theme
from econ.reports.cautions import FULL
from econ.reports.sentences import BY_LIST
from econ.reports.tables.page import page as tables
from econ.reports.tables.plain import Row


def page_html(answer: Answer, flips: Sequence[BreakEven] | None = None) -> bytes:
    """The page of an answer, as UTF-8. flips: those of its sensitivity, if that is worked out."""
    page = tables(answer, page_model(answer), flips)
    script, style = Markup(_script()), Markup(_style())  # ours, and named by their hashes
    # Everything from a scenario goes through autoescape, or as data through `_json`.
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    found = environment.from_string(_read("page.html.j2")).render(
        page=page,
        cautions=FULL,
        by_list=BY_LIST if len(answer.ahead) > 1 else "",
        warnings=safety.warnings(answer.as_left),
        barred=safety.barred_runs(answer.as_left),
        sealed_source=safety.checklist(answer.as_left),
        data=_json(page["script"]),
        script=script,
        style=style,
        script_hash=_hash(script),
        style_hash=_hash(style),
    )
    return found.encode("utf-8", "replace")


def _script() -> str:
    return f"\n(() => {{\n{_read('model.js')}\n{_read('page.js')}}})();\n"


def _style() -> str:
    names = ("PAPER", "INK", "MUTED", "RULE", "FISHING", "FALLBACK", "FLAT")
    colours = "".join(f"--{name.lower()}: {getattr(theme, name)}; " for name in names)
    return f"\n:root {{ {colours}--typefaces: {theme.SCREEN_TYPEFACES}; }}\n{_read('page.css')}"


def _json(values: Row) -> Markup:
    """JSON in a data block: nothing in it ends the block or begins a tag."""
    text = json.dumps(values, allow_nan=False, separators=(",", ":"), sort_keys=True)
    for mark in "<>&":
        text = text.replace(mark, f"\\u{ord(mark):04x}")
    return Markup(text)


def _read(name: str) -> str:
    return files("econ.reports.page").joinpath(name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return "sha256-" + base64.b64encode(digest).decode("ascii")
