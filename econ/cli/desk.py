"""`econ desk`: the program in the browser of this machine."""

from __future__ import annotations

import os
from pathlib import Path

import click

from econ.cli.exits import UnfinishedError
from econ.cli.guard import guard
from econ.cli.terminal import path_shown, say

STANDARD = "job.toml"


@click.command()
@click.argument("file", default=STANDARD)
@click.option(
    "--log", metavar="RUNS.csv", help="Runs made so far; without it, FILE's name with _runs.csv."
)
@click.option("--no-browser", is_flag=True, help="Print where the desk is, and open nothing.")
def desk(file: str, log: str | None, no_browser: bool) -> None:
    """Open the scenario FILE in the browser of this machine.

    A FILE that is not there is begun with ten questions, and written when you save. The desk
    answers this machine alone, and ends half a minute after its last window is closed, or stays
    while something is not saved.
    """
    from econ.cli.targets import check_file
    from econ.desk.server import serve

    runs = log or str(Path(file).with_name(f"{Path(file).stem}_runs.csv"))
    guard(lambda: check_file(runs, {"the scenario": file}, option="--log"))
    name = path_shown(os.path.basename(file))

    def opened(address: str) -> None:
        say(f"On the desk: {name}")
        say(f"Its log: {path_shown(os.path.basename(runs))} (--log names another)")
        if no_browser:
            say("Open this file in a browser; it works once:")
            say(path_shown(address))
        else:
            say("A window of the browser has it. Ctrl-C here ends the desk.")
            _open(address)

    guard(lambda: serve(file, runs, disk=_Disk(), opened=opened, say=say))


class _Disk:
    """How files are written, with the words of the command line where that fails."""

    def replace(self, path: str, old: bytes | None, new: bytes) -> None:
        """See `econ.cli.files.replace_read`."""
        from econ.cli.files import replace_read

        try:
            replace_read(path, old, new)
        except UnfinishedError as error:
            raise OSError(str(error)) from None

    def move(
        self, source: tuple[str, bytes | None, bytes], to: tuple[str, bytes | None, bytes]
    ) -> None:
        """See `econ.cli.files.move_read`."""
        from econ.cli.files import move_read

        try:
            move_read(source, to=to)
        except UnfinishedError as error:
            raise OSError(str(error)) from None


def _open(address: str) -> None:
    """Open a file in the browser that the system has for it, beside the desk."""
    import threading
    import webbrowser

    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
