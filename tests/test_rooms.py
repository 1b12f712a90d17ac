"""The house rules of the source tree: order of the rooms, size, what lies where."""

from __future__ import annotations

import ast
import importlib
import shutil
import subprocess
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "econ"
ROOMS = ["scenario", "sampling", "job", "records", "engine", "decision", "reports", "desk", "cli"]
FACADE_FROM = ROOMS.index("reports")  # rooms from here on may ask `econ` itself, for its version
LONGEST = 600  # lines; modules are cut at concepts, and here is where to look twice
TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "pyproject.toml"),
    *("econ", "notebooks", "tests", "scenarios"),
}
MODULES = sorted(PACKAGE.rglob("*.py"))
IN_ROOMS = [path for path in MODULES if path.parent != PACKAGE]


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def imported(path: Path, source: ast.Module | None = None) -> Iterator[str]:
    """Dotted names a module imports anywhere, also inside functions and for typing only."""
    package = list(path.relative_to(ROOT).parent.parts)
    for node in ast.walk(source or tree(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            start = ".".join([*above, *([node.module] if node.module else [])])
            yield from (f"{start}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and "import_module" in (
            getattr(node.func, "attr", ""),
            getattr(node.func, "id", ""),
        ):
            yield from (str(arg.value) for arg in node.args if isinstance(arg, ast.Constant))


@cache
def imports(path: Path) -> list[str]:
    """Dotted names that a module imports."""
    return list(imported(path))


def broken(rule: Callable[[Path], Any], paths: list[Path] = MODULES) -> dict[str, Any]:
    """What a rule objects to, by module."""
    return {name(path): found for path in paths if (found := rule(path))}


def test_rooms_are_those_of_the_design() -> None:
    folders = {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()}
    assert folders == set(ROOMS)


def from_later_rooms(path: Path) -> list[str]:
    """What a module imports that lies in a room after its own."""
    place = ROOMS.index(path.relative_to(PACKAGE).parts[0])
    found = []
    for dotted in imports(path):
        first, *rest = dotted.split(".")
        if first == "econ":
            inside = bool(rest) and rest[0] in ROOMS
            if place < (ROOMS.index(rest[0]) if inside else FACADE_FROM):
                found.append(dotted)
    return found


def test_rooms_import_only_from_rooms_before_them() -> None:
    assert len(IN_ROOMS) > 200
    assert broken(from_later_rooms, IN_ROOMS) == {}


def test_an_import_from_a_later_room_is_seen() -> None:
    assert from_later_rooms(PACKAGE / "cli" / "__init__.py") == []
    before = ROOMS.index("cli")
    assert any(each.startswith("econ.reports") for each in imports(PACKAGE / "cli" / "memo.py"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(globals(), "ROOMS", ["cli", *ROOMS[:before]])
        assert from_later_rooms(PACKAGE / "cli" / "memo.py")


def test_the_reader_of_imports_sees_all_sorts() -> None:
    # the check above is only as good as its reader
    source = ast.parse(
        "import econ.cli\nfrom econ import engine\nfrom ..decision import answer\n"
        "def f():\n    from econ.reports.text import text\n    import_module('econ.records')\n"
    )
    assert list(imported(PACKAGE / "job" / "clock.py", source)) == [
        *("econ.cli", "econ.engine", "econ.decision.answer"),
        *("econ.reports.text.text", "econ.records"),
    ]


def test_modules_are_short_enough_to_read() -> None:
    lines = {name(path): path.read_text(encoding="utf-8").count("\n") for path in MODULES}
    assert {path: count for path, count in lines.items() if count > LONGEST} == {}


def test_no_picture_needs_global_state() -> None:
    def stateful(path: Path) -> list[str]:
        return [dotted for dotted in imports(path) if "pyplot" in dotted or "pylab" in dotted]

    assert broken(stateful) == {}


def test_nothing_waits_for_scipy_stats() -> None:
    # more than half a second to import, longer than all else that an answer imports
    def slow(path: Path) -> list[str]:
        return [dotted for dotted in imports(path) if dotted.startswith("scipy.stats")]

    assert broken(slow) == {}


def test_no_module_is_a_drawer_for_odds_and_ends() -> None:
    def drawer(path: Path) -> set[str]:
        return {"util", "utils", "helpers", "misc"} & set(path.with_suffix("").parts)

    assert broken(drawer) == {}


def swappable(source: ast.Module) -> list[str]:
    """Public functions that take two or more plain numbers by place."""
    found = []
    for node in source.body:
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        numbers = [
            arg.arg
            for arg in [*node.args.posonlyargs, *node.args.args]
            if arg.annotation is not None and ast.unparse(arg.annotation) in ("float", "int")
        ]
        if len(numbers) > 1:
            found.append(f"{node.name}({', '.join(numbers)})")
    return found


def test_numbers_cannot_be_swapped() -> None:
    assert broken(lambda path: swappable(tree(path))) == {}
    assert swappable(ast.parse("def f(a: int, b: float, *, c: int): ...")) == ["f(a, b)"]


@pytest.mark.parametrize("room", [None, *ROOMS])
def test_all_is_exact(room: str | None) -> None:
    path = PACKAGE / (room or "") / "__init__.py"
    module = importlib.import_module("econ" if room is None else f"econ.{room}")
    names = getattr(module, "__all__", None)
    if names is None:
        # nothing is offered from the room itself, so nothing may be gathered there
        assert room == "cli" or not [d for d in imported(path) if d.startswith("econ.")]
        return
    gathered = {
        alias.asname or alias.name
        for node in ast.walk(tree(path))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("econ")
        for alias in node.names
    }
    assert len(names) == len(set(names))
    assert set(names) == gathered
    assert all(hasattr(module, each) for each in names)


def tracked() -> list[str]:
    """Files that git knows or would take, without those it is told to leave alone."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        pytest.skip("not a git working copy")
    command = [git, "-C", str(ROOT), "ls-files", "--cached", "--others", "--exclude-standard"]
    found = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return [line for line in found.splitlines() if (ROOT / line).exists()]


def test_top_level_of_the_repository() -> None:
    top = {line.split("/")[0] for line in tracked()}
    assert {"README.md", "pyproject.toml", "econ", "tests", "scenarios"} <= top
    assert {each for each in top - TOP_LEVEL if not each.startswith(".")} == set()


def test_no_large_file_is_kept() -> None:
    assert [line for line in tracked() if (ROOT / line).stat().st_size > 1_000_000] == []
