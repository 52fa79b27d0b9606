"""Meters that nobody knows yet, on pseudo-terminals: they talk by themselves until they are switched off."""

from __future__ import annotations

import contextlib
import itertools
import os
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
