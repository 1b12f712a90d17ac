"""What every page in one file shares: it opens from a disk, loads nothing, and runs one script.

The content-security-policy of such a page allows nothing but the script and the style that its
hashes name. Data stand in a block of JSON in which nothing ends the block or begins a tag; all else
from a scenario goes through autoescape, or is set as text by the script.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from econ.reports import theme
from econ.reports.tables.plain import Row


def render(
    package: str, template: str, *, scripts: Sequence[str], style: str, data: Row, **places: object
) -> bytes:
    """A page as UTF-8 from files of a package: a template, scripts that become one, and a style
    that finds the colours of the theme; data: what the script reads."""
    whole = "\n".join(_read(package, name) for name in scripts)
    script = Markup(f"\n(() => {{\n{whole}}})();\n")
    sheet = Markup(_style(_read(package, style)))  # ours, and named by their hashes
    found = compiled(package, template).render(
        data=json_block(data),
        script=script,
        style=sheet,
        script_hash=_hash(script),
        style_hash=_hash(sheet),
        **places,
    )
    return found.encode("utf-8", "replace")


@cache
def compiled(package: str, template: str) -> Template:
    """A template of a package. Everything from a scenario goes through autoescape; to compile it
    takes longer than to fill it."""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    return environment.from_string(_read(package, template))


def json_block(values: Row) -> Markup:
    """JSON in a data block: nothing in it ends the block or begins a tag."""
    text = json.dumps(values, allow_nan=False, separators=(",", ":"), sort_keys=True)
    for mark in "<>&":
        text = text.replace(mark, f"\\u{ord(mark):04x}")
    return Markup(text)


def _style(sheet: str) -> str:
    names = ("PAPER", "INK", "MUTED", "RULE", "WASH", "FISHING", "FALLBACK", "RECOVERED", "FLAT")
    colours = "".join(f"--{name.lower()}: {getattr(theme, name)}; " for name in names)
    return f"\n:root {{ {colours}--typefaces: {theme.SCREEN_TYPEFACES}; }}\n{sheet}"


def _read(package: str, name: str) -> str:
    return files(package).joinpath(name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return "sha256-" + base64.b64encode(digest).decode("ascii")
