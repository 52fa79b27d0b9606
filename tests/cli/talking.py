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

    def talk(far: int, stop: threading.Event) -> None:
        os.set_blocking(far, False)
        for number in itertools.count():
            if stop.wait(every_s):
                return
            with contextlib.suppress(BlockingIOError):  # nobody listens, and the buffer is full
                os.write(far, says(number))

    with _on_a_port(talk) as name:
        yield name


@contextmanager
def answering(answers: Callable[[bytes], bytes]) -> Iterator[str]:
    """A meter that says `answers(what came)` each time something comes; gives the name of its port."""

    def listen(far: int, stop: threading.Event) -> None:
        while not stop.is_set():
            if select.select([far], [], [], 0.05)[0] and (said := answers(os.read(far, 4096))):
                os.write(far, said)

    with _on_a_port(listen) as name:
        yield name


@contextmanager
def _on_a_port(meter: Callable[[int, threading.Event], None]) -> Iterator[str]:
    """Runs `meter(far end, stop)` on a thread until it is switched off; gives the name of the near end."""
    far, near = os.openpty()
    tty.setraw(near)
    stop = threading.Event()
    thread = threading.Thread(target=meter, args=(far, stop), daemon=True)
    thread.start()
    try:
        yield os.ttyname(near)
    finally:
        stop.set()
        thread.join()
        os.close(far)
        os.close(near)
