"""Asking a meter for frames that all look alike: a late answer must not answer the next question."""

from __future__ import annotations

from benchtui.driver.asking import Asking

_MOST_TIMES = 16
"""So many times longer than described a slow meter is waited for."""


class Patient:
    """`Asking`, with quiet after a miss, and more time for a meter that was seen to answer late."""

    def __init__(self, send: bytes, every_ns: int, within_ns: int) -> None:
        """As `Asking`."""
        self._send = send
        self._every_ns = every_ns
        self._within_ns = within_ns
        self._times = 1
        self._asking = Asking(send, every_ns, within_ns)
        self._missed = False
        """Whether an answer may still be on its way."""
        self._unasked = 0
        self.waiting = False
        """Whether a question is out."""

    @property
    def wake_ns(self) -> int | None:
        """The next question, or the end of the wait for an answer."""
        return self._asking.wake_ns

    def is_due(self, at_ns: int) -> bool:
        """Whether a tick does anything."""
        return self.wake_ns is not None and at_ns >= self.wake_ns

    def start(self, at_ns: int) -> None:
        """The port is open: wait for quiet, then ask."""
        self.waiting = self._missed = False
        self._asking.start(at_ns)

    def tick(self, at_ns: int) -> bytes:
        """What to send now, if it is time: nothing right after a miss, for the answer may be on its way."""
        if not self.is_due(at_ns):
            return b""
        self._unasked = 0
        if self.waiting:
            self.waiting, self._missed = False, True
            self._asking.start(at_ns)
            return b""
        self.waiting, self._missed = True, False
        return self._asking.tick(at_ns)

    def answered(self, at_ns: int) -> None:
        """A frame has come."""
        self.waiting = False
        self._asking.answered(at_ns)

    def unasked(self, count: int, length: int, at_ns: int) -> None:
        """So many bytes came while no question was out; a whole frame of them is a late answer.

        Then wait for quiet and from now on twice as long: the answers were one behind.
        """
        self._unasked += count
        if self._unasked < length:
            return
        self._unasked = 0
        if self._asking.settling and not self._missed:
            return  # from before the first question, or of a meter that sends by itself as well
        self._missed = False
        self._times = min(2 * self._times, _MOST_TIMES)
        self._asking = Asking(self._send, self._every_ns, self._within_ns * self._times)
        self._asking.start(at_ns)
