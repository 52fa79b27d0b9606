"""The command line: `benchtui COMMAND`. One file a command; each imports what it needs when it runs."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import NoReturn

from benchtui import __version__
from benchtui.model.errors import BenchError
from benchtui.model.notes import plain

from .console import example, say_error
from .stopping import as_interrupts
from .streams import NobodyReads, finish, prepare_streams, put_error, put_out

COMMANDS = ("demo", "watch", "replay", "judge", "meters", "chart")
"""Modules of this package, each with `add_parser(subparsers)` that sets `run(args) -> exit status`."""

NOTHING_WRONG, FAULT, COULD_NOT = 0, 1, 2
DEBUG = "BENCHTUI_DEBUG"
"""An environment variable: set, an unexpected error is shown with all its details."""


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one command.

    Gives 0 (nothing wrong), 1 (a listed finding has severity fault) or 2 (it could not do what was asked).
    """
    with as_interrupts():
        prepare_streams()
        status = _status(lambda: _run(argv))
        return max(status, _status(_finish))


def _run(argv: Sequence[str] | None) -> int:
    args = parser().parse_args(argv)
    return int(args.run(args))


def _finish() -> int:
    finish()
    return NOTHING_WRONG


def _status(of: Callable[[], int]) -> int:
    """The exit status of what is done here, each of its errors told."""
    try:
        return of()
    except BenchError as error:
        say_error(str(error))
        return COULD_NOT
    except NobodyReads:
        return NOTHING_WRONG
    except KeyboardInterrupt:
        say_error("stopped")
        return COULD_NOT
    except SystemExit as end:
        return COULD_NOT if end.code not in (0, None) else NOTHING_WRONG
    except Exception as error:
        if os.environ.get(DEBUG):
            raise
        say_error(
            f"the program itself failed ({type(error).__name__}: {error}); "
            f"run it with {DEBUG}=1 in the environment to see where, and report that"
        )
        return COULD_NOT


class Parser(argparse.ArgumentParser):
    """One whose errors repeat what was typed without anything that a terminal acts on.

    Help that cannot be written is an error too.
    """

    def print_help(self, file: object = None) -> None:
        put_out(self.format_help().rstrip("\n"))

    def error(self, message: str) -> NoReturn:
        """Tells it under the usage line; ends with status 2."""
        put_error(f"{self.format_usage()}{self.prog}: error: {plain(message, most=4000)}")
        raise SystemExit(COULD_NOT)


def parser() -> argparse.ArgumentParser:
    """The parser of all commands."""
    top = Parser(
        prog="benchtui",
        description="A second pair of eyes on the bench, for people who restore valve radios and amplifiers.",
        **example(
            "benchtui demo",
            "benchtui watch --chart my-set.toml --bench my-bench.toml",
            after="Exit status: 0 nothing wrong; 1 a finding is a fault of the set;\n2 it could not do it.",
        ),
    )
    top.add_argument("--version", action="version", version=f"benchtui {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for name in COMMANDS:
        import_module(f"benchtui.cli.{name}").add_parser(commands)
    return top


if __name__ == "__main__":
    sys.exit(main())
