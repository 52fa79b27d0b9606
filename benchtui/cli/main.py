"""The command line: `benchtui COMMAND`. One file a command; each imports what it needs when it runs."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from benchtui import __version__
from benchtui.model.errors import BenchError

from .console import example, prepare_streams, say_error

COMMANDS = ("demo", "watch", "replay", "judge", "meters", "chart")
"""Modules of this package, each with `add_parser(subparsers)` that sets `run(args) -> exit status`."""

NOTHING_WRONG, FAULT, COULD_NOT = 0, 1, 2
DEBUG = "BENCHTUI_DEBUG"
"""An environment variable: set, an unexpected error is shown with all its details."""


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one command.

    Gives 0 (nothing wrong), 1 (a listed finding has severity fault) or 2 (it could not do what was asked).
    """
    prepare_streams()
    try:
        args = parser().parse_args(argv)
        status = int(args.run(args))
        sys.stdout.flush()
        return status
    except BenchError as error:
        say_error(str(error))
        return COULD_NOT
    except BrokenPipeError:
        _let_go_of_stdout()
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


def parser() -> argparse.ArgumentParser:
    """The parser of all commands."""
    top = argparse.ArgumentParser(
        prog="benchtui",
        description="A second pair of eyes on the bench, for people who restore valve radios and amplifiers.",
        **example(
            "benchtui demo",
            "benchtui watch --chart saltmarsh-six.toml --bench bench.toml",
            after="Exit status: 0 nothing wrong; 1 a finding is a fault of the set;\n2 it could not do it.",
        ),
    )
    top.add_argument("--version", action="version", version=f"benchtui {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for name in COMMANDS:
        import_module(f"benchtui.cli.{name}").add_parser(commands)
    return top


def _let_go_of_stdout() -> None:
    """The reader of our output is gone: nothing more is written, not even at exit."""
    with contextlib.suppress(OSError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


if __name__ == "__main__":
    sys.exit(main())
