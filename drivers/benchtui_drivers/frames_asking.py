"""Asking a meter for frames that all look alike: a late answer must not answer the next question."""

from __future__ import annotations

from benchtui.driver.asking import Asking

_MOST_TIMES = 16
"""So many times longer than described a slow meter is waited for."""
_QUIET_TIMES = 4
"""After misses one waits for quiet so many times longer than for an answer: there is no other way to tell a
late answer from the next."""


class Patient:
    """`Asking`, with quiet after a miss, and more time for a meter that was seen to answer late."""

    def __init__(self, send: bytes, every_ns: int, within_ns: int) -> None:
        """As `Asking`."""
        self._send = send
        self._every_ns = every_ns
        self._within_ns = within_ns
        self._asking = Asking(send, every_ns, within_ns)
        self._most_ns = within_ns * _MOST_TIMES
        self._misses = 0
        """In a row: that many answers may still be on their way."""
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
        self.waiting, self._misses = False, 0
        self._asking = Asking(self._send, self._every_ns, self._within_ns)
        self._asking.start(at_ns)

    def tick(self, at_ns: int) -> bytes:
        """What to send now, if it is time: nothing right after a miss, for the answer may be on its way."""
        if not self.is_due(at_ns):
            return b""
        self._unasked = 0
        if self.waiting:
            self.waiting = False
            self._misses += 1
            self._settle(at_ns, self._within_ns * min(2 ** (self._misses - 1), _QUIET_TIMES))
            return b""
        self.waiting = True
        return self._asking.tick(at_ns)

    def answered(self, at_ns: int) -> None:
        """A frame has come."""
        self.waiting, self._misses = False, 0
        self._asking.answered(at_ns)

    def unasked(self, count: int, length: int, at_ns: int) -> None:
        """So many bytes came while no question was out; a whole frame of them is a late answer.

        Then wait for quiet, and from now on twice as long for each answer.
        """
        self._unasked += count
        if self._unasked < length:
            return
        self._unasked = 0
        if self._asking.settling and not self._misses:
            return  # from before the first question, or of a meter that sends by itself as well
        self._misses = max(0, self._misses - 1)
        self._within_ns = min(2 * self._within_ns, self._most_ns)
        self._settle(at_ns, self._within_ns)

    def _settle(self, at_ns: int, quiet_ns: int) -> None:
        self._asking = Asking(self._send, self._every_ns, self._within_ns, quiet_ns)
        self._asking.start(at_ns)
