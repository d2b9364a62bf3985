"""The command line: every command is one thin function in ``cli_plan``, ``cli_answers`` or ``cli_change``."""

from __future__ import annotations

import io
import os
import sys
from typing import Any, TextIO

from scheduler.cli_shared import NO_PLAN, app

# The commands register themselves, in the order of the help.
# isort: off
from scheduler import cli_plan  # noqa: F401
from scheduler import cli_answers  # noqa: F401
from scheduler import cli_change  # noqa: F401
# isort: on

SOLVE = frozenset({"plan", "explain", "mend", "promise", "rebalance"})  # commands that run solvers


def main() -> None:
    """Entry point of the ``rockrota`` command."""
    only_our_words()
    if SOLVE.intersection(sys.argv[1:2]) and "--help" not in sys.argv:
        from scheduler.watched import watched

        watched(app, NO_PLAN)
    else:
        app()


def only_our_words() -> None:
    """Keep both channels for what we print: solvers sometimes print by themselves, past Python; that goes nowhere.

    Where nobody reads on, as after ``| head``, what is left to say goes nowhere, too: files are written all the same.
    """
    sys.stdout.flush()
    sys.stderr.flush()
    ours = os.dup(1), os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    os.close(nowhere)
    sys.stdout = _patient(ours[0], sys.stdout)
    sys.stderr = _patient(ours[1], sys.stderr)


class _Patient(io.FileIO):
    """An end of a pipe that may have lost its reader."""

    def write(self, data: Any, /) -> int:
        try:
            return super().write(data)
        except BrokenPipeError:
            return len(data)


def _patient(number: int, old: TextIO) -> TextIO:
    """A stream like an old one, on a file descriptor of its own."""
    raw = io.BufferedWriter(_Patient(number, "w"))
    return io.TextIOWrapper(
        raw, old.encoding, old.errors, line_buffering=old.isatty() or old is sys.stderr, write_through=old is sys.stderr
    )


if __name__ == "__main__":
    from scheduler.cli import main as main_of_the_package  # the same ``app`` that the other commands are on

    main_of_the_package()
