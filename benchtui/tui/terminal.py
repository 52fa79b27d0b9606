"""A terminal that may send anything, and may go: what Textual's own driver does not expect of one."""

from __future__ import annotations

import codecs
import os
from contextlib import suppress
from functools import partial
from queue import Full

from textual.drivers import linux_driver

BUSY_S = 0.25
"""How long a write waits for a busy terminal."""
LAST_S = 2.0
"""How long the end waits for the terminal to take what was written last."""


def _forgiving(encoding: str) -> partial[codecs.IncrementalDecoder]:
    """A decoder that takes bytes that are no text for an unknown key, instead of failing."""
    return partial(codecs.getincrementaldecoder(encoding), errors="replace")


linux_driver.getincrementaldecoder = _forgiving  # type: ignore[attr-defined,assignment]


class Terminal(linux_driver.LinuxDriver):
    """Textual's driver for POSIX terminals, with those two things added."""

    def run_input_thread(self) -> None:
        """Ends in silence where the terminal is gone: `is_gone` tells, and the app ends."""
        try:
            super().run_input_thread()
        except OSError:
            if not is_gone():
                raise

    is_stalled = False
    """The terminal takes nothing; what is written is dropped, and all is drawn anew once it does."""

    def write(self, data: str) -> None:
        """Waits a moment for a busy terminal; one that takes nothing at all holds up no recording."""
        thread = self._writer_thread
        if thread is None or not thread.is_alive():
            return
        try:
            thread._queue.put(data, block=not self.is_stalled, timeout=BUSY_S)
        except Full:
            self.is_stalled = True
            return
        if self.is_stalled:
            self.is_stalled = False
            self._app.call_later(self._app.refresh, layout=True)

    def close(self) -> None:
        """Lets the thread that writes finish what it has, if the terminal takes it."""
        thread = self._writer_thread
        if thread is not None and thread.is_alive():
            with suppress(Full):
                thread._queue.put(None, timeout=BUSY_S)
                thread.join(LAST_S)


def is_gone() -> bool:
    """Whether the terminal that the program was started on has been closed."""
    return not os.isatty(0)
