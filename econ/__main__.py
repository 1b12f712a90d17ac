"""The command `econ`, also as `python -m econ`."""

from __future__ import annotations

import sys

INTERRUPTED = 130  # as in econ.cli.exits, which is loaded too late for this


def main() -> None:
    """Run the command line; Ctrl-C while it is still being loaded ends it quietly too."""
    try:
        from econ.cli import main as commands

        commands(prog_name="econ")
    except KeyboardInterrupt:  # before a command has begun; from then on it sees to that itself
        sys.exit(INTERRUPTED)
    except RuntimeError as error:  # so Python wraps it while a class is being made
        if isinstance(error.__cause__, KeyboardInterrupt):
            sys.exit(INTERRUPTED)
        raise


if __name__ == "__main__":
    main()
