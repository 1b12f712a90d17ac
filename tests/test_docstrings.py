"""Every public module, class, function and method says what it does."""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from inspect import isfunction
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted((ROOT / "econ").rglob("*.py"))
Documented = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
ROOMS = ("econ", *(f"econ.{name}" for name in ("scenario", "job", "job.methods", "records")))


def public(node: Documented, path: str) -> Iterator[tuple[str, Documented]]:
    """A module or class and what is public in it; what lies inside a function is its own."""
    yield path, node
    for child in node.body:
        if isinstance(child, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            if child.name.startswith("_"):
                continue
            if isinstance(child, ast.ClassDef):
                yield from public(child, f"{path}.{child.name}")
            else:
                yield f"{path}.{child.name}", child


def test_everything_public_has_a_docstring() -> None:
    bare = []
    for path in MODULES:
        source = ast.parse(path.read_text(encoding="utf-8"))
        documented = public(source, path.relative_to(ROOT).as_posix())
        bare += [name for name, node in documented if not ast.get_docstring(node)]
    assert bare == []


def test_source_is_plain_ascii() -> None:
    # terminal text comes from these strings, and a console may know no more than ASCII
    lines = {path: path.read_text(encoding="utf-8").splitlines() for path in MODULES}
    assert [
        f"{path.relative_to(ROOT).as_posix()}: {number}"
        for path in MODULES
        for number, line in enumerate(lines[path], start=1)
        if not line.isascii()
    ] == []


def test_the_reader_finds_what_is_bare() -> None:
    # the check above is only as good as its reader
    source = "class A:\n    def b(self): ...\n    def _c(self): ...\ndef d():\n    def e(): ...\n"
    names = [name for name, node in public(ast.parse(source), "m") if not ast.get_docstring(node)]
    assert names == ["m", "m.A", "m.A.b", "m.d"]


@pytest.mark.parametrize("room", [*ROOMS, "econ.decision"])
def test_every_function_of_the_interface_has_an_example(room: str) -> None:
    # run by `pytest --doctest-modules econ`
    module = importlib.import_module(room)
    functions = [each for name in module.__all__ if isfunction(each := getattr(module, name))]
    assert [each.__name__ for each in functions if ">>>" not in (each.__doc__ or "")] == []
    assert all(each.__module__.startswith("econ.") for each in functions)
