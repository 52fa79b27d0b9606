"""Meters that nobody knows yet, on pseudo-terminals: they talk by themselves until they are switched off."""

from __future__ import annotations

import contextlib
import itertools
import os
import select
import threading
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def talking(says: Callable[[int], bytes], every_s: float = 0.1) -> Iterator[str]:
    """A meter that says `says(0)`, `says(1)`, …; gives the name of its port."""
    far, near = os.openpty()
    tty.setraw(near)
    os.set_blocking(far, False)
    stop = threading.Event()

    def talk() -> None:
        for number in itertools.count():
            if stop.wait(every_s):
                return
            with contextlib.suppress(BlockingIOError):  # nobody listens, and the buffer is full
                os.write(far, says(number))

    thread = threading.Thread(target=talk, daemon=True)
    thread.start()
    try:
        yield os.ttyname(near)
    finally:
        stop.set()
        thread.join()
        os.close(far)
        os.close(near)


@contextmanager
def answering(answers: Callable[[bytes], bytes]) -> Iterator[str]:
    """A meter that says `answers(what came)` each time something comes; gives the name of its port."""
    far, near = os.openpty()
    tty.setraw(near)
    stop = threading.Event()

    def listen() -> None:
        while not stop.is_set():
            if select.select([far], [], [], 0.05)[0] and (said := answers(os.read(far, 4096))):
                os.write(far, said)

    thread = threading.Thread(target=listen, daemon=True)
    thread.start()
    try:
        yield os.ttyname(near)
    finally:
        stop.set()
        thread.join()
        os.close(far)
        os.close(near)
