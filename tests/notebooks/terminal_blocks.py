"""Blocks of README and guide that show a command and what it prints.

python tests/notebooks/terminal_blocks.py    writes what is printed now into all of them
"""

from __future__ import annotations

import re
import shlex
from pathlib import Path

from click.testing import CliRunner

from econ.cli import main

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "notebooks" / "guide").glob("*.md"))]
BLOCK = re.compile(r"^```console\n\$ econ (.*)\n(?:.*\n)*?```$", re.M)


def rewritten(markdown: str) -> str:
    """The page with what each command prints now, run in the working directory."""

    def shown(block: re.Match[str]) -> str:
        result = CliRunner().invoke(main, shlex.split(block[1]))
        assert result.exit_code == 0, result.output
        return f"```console\n$ econ {block[1]}\n{result.stdout}```"

    return BLOCK.sub(shown, markdown)


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(rewritten(page.read_text(encoding="utf-8")), encoding="utf-8")
