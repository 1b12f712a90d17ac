"""The guide and the notebooks as pages that any browser shows, without an install and a network.

    python notebooks/as_html.py FOLDER

FOLDER/index.html leads to all of them. They are for reading: formulas are MathML, pictures are in
the page, and nothing is run or loaded. Pages that run the notebooks in the browser itself would
need NumPy, SciPy, pandas and matplotlib built for it, which no package brings along; they would be
loaded from a network each time.

Links keep their places, because the folder is laid out as the checkout is: NAME.md and NAME.ipynb
become NAME.html, and what else a page links to is copied.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import os
import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from latex2mathml.converter import convert
from markdown_it import MarkdownIt
from markdown_it.token import Token
from mdit_py_plugins.dollarmath import dollarmath_plugin

import econ

ROOT = Path(__file__).parents[1]
GUIDE = ROOT / "notebooks" / "guide"
READ = ("README.md", "DEVELOPERS.md", "notebooks/*.md", "notebooks/*.ipynb", "notebooks/guide/*.md")
STYLE = f"""
body {{ margin: 0 auto; max-width: 52rem; padding: 1rem; color: {econ.theme.INK};
  background: {econ.theme.PAPER}; font: 1rem/1.5 {econ.theme.SCREEN_TYPEFACES};
  overflow-wrap: anywhere; }}
h1, h2, h3 {{ line-height: 1.2; }}
h2 {{ border-top: 2px solid {econ.theme.FISHING}; padding-top: .5rem; margin-top: 2rem; }}
a {{ color: {econ.theme.FISHING}; }}
nav {{ font-size: .9rem; }}
table {{ border-collapse: collapse; display: block; overflow-x: auto; font-size: .9rem; }}
th, td {{ text-align: left; vertical-align: top; padding: .25rem .6rem;
  border-bottom: 1px solid {econ.theme.RULE}; overflow-wrap: normal; }}
pre {{ background: {econ.theme.WASH}; padding: .6rem; overflow-x: auto; font-size: .85rem; }}
pre.shown {{ background: none; border-left: .3rem solid {econ.theme.RULE}; }}
blockquote {{ margin: 1rem 0; padding: 0 1rem; border-left: .3rem solid {econ.theme.FALLBACK}; }}
img {{ max-width: 100%; height: auto; }}
math[display=block] {{ overflow-x: auto; margin: .8rem 0; }}
@media print {{ nav {{ display: none; }} pre, tr, img {{ break-inside: avoid; }}
  pre {{ white-space: pre-wrap; }}
  h1, h2, h3 {{ break-after: avoid; }} table {{ display: table; }} @page {{ margin: 14mm; }}
  html {{ font-size: 11px; }} body {{ max-width: none; padding: 0; }} }}
"""


def anchor(heading: str) -> str:
    """The name of a heading in links, as readers of Markdown on the web make it.

    >>> anchor('When a hand says "screw in"')
    'when-a-hand-says-screw-in'
    """
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


def target(link: str) -> str:
    """Where a link of the checkout leads among the pages.

    >>> target("guide/start.md#reading-order"), target("https://example.org/a.md")
    ('guide/start.html#reading-order', 'https://example.org/a.md')
    """
    if re.match(r"[a-z]+:", link):
        return link
    return re.sub(r"\.(md|ipynb)(?=#|$)", ".html", link)


def formula(text: str, *, display: bool) -> str:
    """A formula of TeX as MathML."""
    return str(convert(text, display="block" if display else "inline"))


def reader() -> MarkdownIt:
    """Markdown with tables and formulas; HTML in it is shown as text."""
    found = MarkdownIt("commonmark", {"html": False}).enable("table")
    found.use(
        dollarmath_plugin,
        allow_space=False,
        renderer=lambda text, options: formula(text, display=bool(options.get("display_mode"))),
    )
    return found


def body(markdown: str) -> str:
    """Markdown as HTML, with names for its headings and links among the pages."""
    plain = re.sub(r"^<!--.*?-->\n", "", markdown, flags=re.M | re.S)
    made = reader()
    tokens = made.parse(plain)
    for place, token in enumerate(tokens):
        if token.type == "heading_open":
            token.attrSet("id", anchor(tokens[place + 1].content))
        for child in token.children or ():
            _lead(child)
    return str(made.renderer.render(tokens, made.options, {}))


def _lead(token: Token) -> None:
    link = token.attrGet("href")
    if token.type == "link_open" and link is not None:
        token.attrSet("href", target(str(link)))


def notebook(content: dict[str, Any]) -> str:
    """A notebook as HTML: its text, its code, and what that has shown."""
    parts = []
    for cell in content["cells"]:
        source = "".join(cell["source"])
        if cell["cell_type"] == "markdown":
            parts.append(body(source))
            continue
        parts.append(f"<pre><code>{html.escape(source)}</code></pre>")
        parts += [_output(output) for output in cell["outputs"]]
    return "\n".join(parts)


def _output(output: dict[str, Any]) -> str:
    data = output.get("data", {})
    words = html.escape("".join(output.get("text", data.get("text/plain", ""))))
    if "image/png" in data:
        picture = "".join(data["image/png"]).replace("\n", "")
        return f'<p><img src="data:image/png;base64,{picture}" alt="{words}"></p>'
    return f'<pre class="shown">{words}</pre>'


def page(title: str, content: str, *, up: str) -> str:
    """A whole page; up: the way from it to the folder."""
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    policy = f"default-src 'none'; img-src data:; style-src 'sha256-{digest}'; base-uri 'none'"
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html.escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        f'<nav><a href="{up}index.html">All pages</a></nav>\n<main>\n{content}\n</main>\n'
        "</body>\n</html>\n"
    )


def sources() -> Iterator[Path]:
    """What is made into pages."""
    for pattern in READ:
        yield from sorted(ROOT.glob(pattern))


def write(folder: Path) -> list[Path]:
    """Write the pages, and copy what they link to; the paths of the pages."""
    made, titles = [], []
    for path in sources():
        text = path.read_text(encoding="utf-8")
        content = notebook(json.loads(text)) if path.suffix == ".ipynb" else body(text)
        title = html.unescape(
            re.sub(r"<[^>]+>", "", re.findall(r"<h1[^>]*>(.*?)</h1>", content)[0])
        )
        place = path.relative_to(ROOT).with_suffix(".html")
        up = "../" * (len(place.parts) - 1)
        out = folder / place
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_text(page(title, content, up=up), encoding="utf-8")
        made.append(out)
        titles.append((title, place.as_posix()))
        for link in re.findall(r'href="([^"#:]+)"', content):
            linked = Path(os.path.normpath(path.parent / link))
            inside = linked.is_relative_to(ROOT) and linked.is_file()
            if inside and linked.suffix not in (".md", ".ipynb"):
                copied = folder / linked.relative_to(ROOT)
                copied.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(linked, copied)
    rows = "\n".join(f'<li><a href="{where}">{html.escape(t)}</a></li>' for t, where in titles)
    index = folder / "index.html"
    words = "<h1>Fish on, or stop and sidetrack?</h1>\n<p>The guide and the notebooks, to read.</p>"
    index.write_text(page("All pages", f"{words}\n<ul>\n{rows}\n</ul>", up=""), encoding="utf-8")
    return [*made, index]


if __name__ == "__main__":
    if len(sys.argv) != 2 or sys.argv[1].startswith("-"):
        sys.exit("usage: python notebooks/as_html.py FOLDER")
    for written in write(Path(sys.argv[1])):
        print(written)
