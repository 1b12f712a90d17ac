"""Guide and notebooks as pages: every link holds, every formula is one, and nothing is loaded."""

from __future__ import annotations

import html
import json
import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "notebooks"))
import as_html  # noqa: E402


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("pages")
    as_html.write(made)
    return made


@pytest.fixture(scope="module")
def pages(folder: Path) -> dict[Path, str]:
    return {path: path.read_text(encoding="utf-8") for path in folder.rglob("*.html")}


def test_every_page_and_notebook_is_there(folder: Path, pages: dict[Path, str]) -> None:
    for path in as_html.sources():
        assert folder / path.relative_to(ROOT).with_suffix(".html") in pages
    assert len(pages) > 25
    index = pages[folder / "index.html"]
    assert all(
        path.relative_to(folder).as_posix() in index for path in pages if "index" not in path.name
    )


def test_every_link_leads_to_a_page_and_to_a_heading(pages: dict[Path, str]) -> None:
    seen = 0
    for path, text in pages.items():
        for link in re.findall(r'<a href="([^"]+)"', text):
            if re.match(r"[a-z]+:", link):
                continue
            name, _, heading = html.unescape(link).partition("#")
            aim = (path.parent / name).resolve() if name else path
            assert aim.exists(), (path.name, link)
            if heading and aim.suffix == ".html":
                assert f'id="{heading}"' in aim.read_text(encoding="utf-8"), (path.name, link)
            seen += 1
    assert seen > 200


def test_every_formula_is_one(pages: dict[Path, str]) -> None:
    written = 0
    for path in as_html.sources():
        text = path.read_text(encoding="utf-8")
        if path.suffix == ".ipynb":
            cells = json.loads(text)["cells"]
            text = "\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "markdown")
        plain = re.sub(r"```.*?```|`[^`]*`", "", text, flags=re.S)
        written += len(re.findall(r"\$\$.+?\$\$|\$[^$\n]+\$", plain, re.S))
    assert sum(text.count("<math") for text in pages.values()) == written > 100
    for path, text in pages.items():
        bare = re.sub(r"<pre.*?</pre>|<code>.*?</code>|<img[^>]*>", "", text, flags=re.S)
        assert not re.search(r"\\[a-z]{2,}|\\_", bare), path.name


def test_a_page_loads_and_runs_nothing(pages: dict[Path, str]) -> None:
    for path, text in pages.items():
        assert "default-src 'none'" in text
        assert "<script" not in text, path.name
        assert not re.search(r'(src|href)="(?!data:)[a-z]+://[^"]*\.(js|css|png|woff2?)', text)


def test_outputs_and_pictures_are_shown(folder: Path, pages: dict[Path, str]) -> None:
    text = pages[folder / "notebooks" / "08_class_exercise.html"]
    assert "just one more" in text
    assert text.count('src="data:image/png;base64,') > 3
    assert all(len(words) > 20 for words in re.findall(r'<img [^>]*alt="([^"]*)"', text))
