"""Standard output and standard error as they may be: closed, full, or with nobody who reads."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Iterator
from typing import TextIO

from benchtui.model.errors import BenchError


class NobodyReads(Exception):
    """The reader of standard output is gone (`| head`): no error, but nothing more need be said."""


class OutputError(BenchError):
    """Standard output is closed, or what it goes to is full."""


def prepare_streams() -> None:
    """Makes every stream one that can be used.

    What an encoding cannot show becomes `?`. A stream that is closed goes nowhere: no file that is opened
    later gets its number. Standard output that is closed fails when it is written to.
    """
    if sys.stdin is None:
        _take_number(0, os.O_RDONLY)
    if sys.stdout is None:
        sys.stdout = _take_number(1, os.O_RDONLY)
    if sys.stderr is None:
        sys.stderr = _take_number(2, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def put_out(text: str, now: bool = False) -> None:
    """The text and a line end on standard output; `now`: nothing stays in a buffer.

    Raises:
        NobodyReads, OutputError
    """
    with _told():
        print(text)
        if now:
            sys.stdout.flush()


def put_error(text: str, end: str = "\n") -> None:
    """The text on standard error; where that cannot be, nowhere."""
    try:
        print(text, end=end, file=sys.stderr, flush=True)
    except (OSError, ValueError):
        _let_go(sys.stderr)


def finish() -> None:
    """Writes what is left of both; what cannot be written then goes nowhere, also at exit.

    Raises:
        NobodyReads, OutputError
    """
    try:
        sys.stderr.flush()
    except (OSError, ValueError):
        _let_go(sys.stderr)
    try:
        with _told():
            sys.stdout.flush()
    except (NobodyReads, OutputError):
        _let_go(sys.stdout)
        raise


@contextlib.contextmanager
def _told() -> Iterator[None]:
    """What fails on standard output, as our two errors."""
    try:
        yield
    except BrokenPipeError as error:
        raise NobodyReads from error
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise OutputError(f"standard output cannot be written: {why}") from error


def _take_number(number: int, how: int) -> TextIO:
    """A stream of this number that goes nowhere."""
    nowhere = os.open(os.devnull, how)
    if nowhere != number:
        os.dup2(nowhere, number)
        os.close(nowhere)
    return open(number, "w" if number else "r", encoding="utf-8", closefd=False)


def _let_go(stream: TextIO) -> None:
    """Nothing more is written to it, not even at exit."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
