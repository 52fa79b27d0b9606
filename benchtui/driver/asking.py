"""When to ask a meter that must be asked: a question, its answer or a deadline, and the next question."""

from __future__ import annotations

_SETTLE_NS = 200_000_000


class Asking:
    """One question asked again and again. Knows instants only as they are passed in."""

    def __init__(self, request: bytes, every_ns: int, within_ns: int, settle_ns: int = _SETTLE_NS) -> None:
        """Asks every `every_ns`, or when the answer has come if that is later; waits `within_ns` for it."""
        self._request = request
        self._every_ns = every_ns
        self._within_ns = within_ns
        self._settle_ns = settle_ns
        self._asked_ns: int | None = None
        self.settling = True
        """True until the first question after `start`: what comes is the rest of somebody else's answers."""
        self.wake_ns: int | None = None

    def start(self, at_ns: int) -> None:
        """The port is open: wait for quiet, then ask."""
        self.settling = True
        self._asked_ns = None
        self.wake_ns = at_ns + self._settle_ns

    def tick(self, at_ns: int) -> bytes:
        """What to send now, if it is time."""
        if self.wake_ns is None or at_ns < self.wake_ns:
            return b""
        self.settling = False
        self._asked_ns = at_ns
        self.wake_ns = at_ns + self._within_ns
        return self._request

    def answered(self, at_ns: int) -> None:
        """A line has come: the next question is due when its time has come, by the next `tick`.

        Never from within `feed`: bytes that came together with the answer are older than the next question.
        """
        if self._asked_ns is not None:
            self.wake_ns = max(self._asked_ns + self._every_ns, at_ns)
            self._asked_ns = None
