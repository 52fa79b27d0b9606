"""A command on a pseudo-terminal of its own, as a person starts it: what it shows, keys, and how it ends."""

from __future__ import annotations

import fcntl
import os
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .made import environment

PATIENCE_S = 60.0
"""How long anything is waited for before the test gives up."""

TAKE_IT = (
    "import fcntl, os, sys, termios\n"
    "fcntl.ioctl(0, termios.TIOCSCTTY, 0)\n"
    "os.execv(sys.argv[1], sys.argv[1:])\n"
)
"""Makes the terminal on standard input the controlling one, then becomes the command that is given."""


class Terminal:
    """The far side of a terminal on which a command runs."""

    def __init__(self, far: int, near: int, child: subprocess.Popen[bytes]) -> None:
        self.far, self.near, self.child = far, near, child
        self.shown = b""
        """Everything that came, escape sequences and all."""

    def press(self, keys: bytes) -> None:
        os.write(self.far, keys)

    def send(self, number: int) -> None:
        self.child.send_signal(number)

    def until(self, text: bytes) -> None:
        """Reads until the text has been shown after all that was shown before.

        Raises:
            AssertionError: it never was.
        """
        begin, end = len(self.shown), time.monotonic() + PATIENCE_S
        while text not in self.shown[begin:]:
            assert time.monotonic() < end, f"never shown: {text!r}; last {self.shown[-2000:]!r}"
            self._read()

    def ended(self) -> int:
        """Reads on until the command has ended; its exit status.

        Raises:
            AssertionError: it does not end.
        """
        end = time.monotonic() + PATIENCE_S
        while self.child.poll() is None:
            assert time.monotonic() < end, f"it does not end; last {self.shown[-2000:]!r}"
            self._read()
        while self._read():
            pass
        return int(self.child.returncode)

    def hang_up(self) -> None:
        """The terminal is closed from outside, as a window or a connection is."""
        os.close(self.near)
        os.close(self.far)
        self.near = self.far = -1

    def is_restored(self) -> bool:
        """Whether lines are edited and echoed again, as a shell expects them."""
        flags = termios.tcgetattr(self.near)[3]
        return bool(flags & termios.ECHO and flags & termios.ICANON and flags & termios.ISIG)

    def _read(self) -> bool:
        if self.far < 0:
            time.sleep(0.05)
            return False
        if not select.select([self.far], [], [], 0.1)[0]:
            return False
        self.shown += os.read(self.far, 65536)
        return True


@contextmanager
def terminal(
    folder: Path, *args: object, size: tuple[int, int] = (80, 24), first: str = "pass"
) -> Iterator[Terminal]:
    """Starts a command on a new terminal, which is its controlling one; `first` runs before it, in it."""
    far, near = os.openpty()
    fcntl.ioctl(near, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))

    code = f"import sys\n{first}\nfrom benchtui.cli.main import main\nsys.exit(main())"
    command = [sys.executable, "-c", code, *map(str, args)]
    child = subprocess.Popen(
        [sys.executable, "-c", TAKE_IT, *command],
        stdin=near,
        stdout=near,
        stderr=near,
        env=environment(folder, TERM="xterm-256color"),
        start_new_session=True,
    )
    on = Terminal(far, near, child)
    try:
        yield on
    finally:
        if child.poll() is None:
            child.send_signal(signal.SIGKILL)
        child.wait()
        for number in (on.far, on.near):
            if number >= 0:
                os.close(number)
