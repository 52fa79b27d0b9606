"""Being asked to stop: by ctrl+c, by the system, by a terminal that is gone."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

ASKED = ("SIGINT", "SIGTERM", "SIGHUP")
"""What asks a program to stop, where the system has it."""


class Stopped(KeyboardInterrupt):
    """Raised where the program is asked to stop.

    A plain KeyboardInterrupt that passes through an `exec` of text, as importing does, is remembered by the
    interpreter: it would end as if killed, with another status than ours.
    """


_asked = threading.Event()
"""Set with each `Stopped`: one that is raised in a destructor or a callback is lost on its way up."""


@contextmanager
def as_interrupts() -> Iterator[None]:
    """Whatever asks to stop raises `Stopped`: where nothing is being recorded."""
    _asked.clear()

    def stop(*_: object) -> None:
        _asked.set()
        raise Stopped

    with _handling(stop):
        yield


@contextmanager
def as_event() -> Iterator[threading.Event]:
    """An event that is set by whatever asks to stop, within it or just before; nothing is interrupted."""
    stop = threading.Event()
    with _handling(lambda *_: stop.set()):
        if _asked.is_set():
            stop.set()
        yield stop


@contextmanager
def _handling(handler: Callable[[int, FrameType | None], object]) -> Iterator[None]:
    """Leaves alone what whoever started the program wants ignored (`nohup`), and all of it in a thread."""
    before: dict[int, object] = {}
    try:
        if threading.current_thread() is threading.main_thread():
            for number in (getattr(signal, name) for name in ASKED if hasattr(signal, name)):
                if signal.getsignal(number) is not signal.SIG_IGN:
                    before[number] = signal.signal(number, handler)
        yield
    finally:
        for number, its in before.items():
            signal.signal(number, its)  # type: ignore[arg-type]
