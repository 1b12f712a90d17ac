"""`econ figures`: every figure as SVG and PNG with its table as CSV, all of them or none."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

import click

from econ.cli.guard import guard, load_scenario


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="DIR", help="Folder for the files; made if needed.")
@click.option("--log", metavar="RUNS.csv", help="Runs made so far; the figures are from then.")
@click.option(
    "--size",
    type=click.Choice(["memo", "page"]),
    default="memo",
    show_default=True,
    help="170 mm wide for a memo, or 257 x 170 mm for a page of its own.",
)
@click.option(
    "--quick", is_flag=True, help="Leave out swings and map, which take most of the time."
)
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def figures(
    file: str, out: str, log: str | None, size: str, quick: bool, changes: tuple[str, ...]
) -> None:
    """Draw the figures of the scenario FILE: SVG, PNG and CSV of each.

    Swings and map are those of the file; after runs of a log they are left out.
    """
    scenario = load_scenario(file, changes)
    guard(lambda: check_folder(out))
    from econ.scenario.run_log import read_log

    made = guard(lambda: () if log is None else read_log(log, scenario))
    from econ.decision import answer
    from econ.reports.figures import FIGURES, NEED_SENSITIVITY, figure, png, svg
    from econ.reports.tables.figures import as_csv, rows

    found = guard(lambda: answer(scenario, made))
    turned = None
    if not quick and not made:
        from econ.decision.changes.sensitivity import sensitivity

        turned = sensitivity(scenario)
    files: dict[str, bytes] = {}
    for name in FIGURES:
        if turned is None and name in NEED_SENSITIVITY:
            continue
        drawn = figure(found, name, turned, size="page" if size == "page" else "memo")
        files[f"{name}.svg"] = svg(drawn)
        files[f"{name}.png"] = png(drawn)
        files[f"{name}.csv"] = as_csv(rows(found, name, turned)).encode()
    guard(lambda: write_set(out, files))
    click.echo(f"wrote {len(files)} files to {ascii(out)[1:-1]}")
    if turned is None and made:
        click.echo("left out: swings and map, which know nothing of a log", err=True)


def check_folder(folder: str) -> None:
    """Refuse, before anything is computed, a folder that is none and cannot be made one."""
    from econ.scenario import Fault, ScenarioError

    try:
        place = Path(folder)
        nearest = next(each for each in (place, *place.absolute().parents) if each.exists())
        able = nearest.is_dir() and os.access(nearest, os.W_OK | os.X_OK)
        reason = "" if able else f"{str(nearest)!a} is not one"
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
    if reason:
        raise ScenarioError([Fault(ascii(folder), "a folder that can be written", reason)])


def write_set(folder: str, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, in place of those that are there: all of them or none.

    They are written to a hidden folder inside it first, and moved when all of them are there.
    """
    from econ.scenario import Fault, ScenarioError

    target = Path(folder)
    hidden: str | None = None
    begun: list[Path] = []
    try:
        begun += [each for each in (target, *target.parents) if not each.exists()]
        for name in files:
            if os.path.lexists(target / name) and not (target / name).is_file():
                raise IsADirectoryError(0, f"{name} there is not a file")
        target.mkdir(parents=True, exist_ok=True)
        hidden = tempfile.mkdtemp(dir=target, prefix=".", suffix=".part")
        for name, data in files.items():
            with open(os.path.join(hidden, name), "xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(os.path.join(hidden, name), 0o644)
        for name in files:
            os.replace(os.path.join(hidden, name), target / name)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        fault = Fault(ascii(folder), "a folder that can be written", reason)
    else:
        return
    finally:
        if hidden is not None:
            shutil.rmtree(hidden, ignore_errors=True)
    for each in begun:  # the folders that were made here, as far as they are empty
        with contextlib.suppress(OSError, ValueError):
            each.rmdir()
    raise ScenarioError([fault])
