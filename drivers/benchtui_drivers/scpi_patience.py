"""How long a SCPI meter is waited for: longer for one that has answered late before."""

from __future__ import annotations

from collections import deque

from .scpi_known import Known
from .scpi_step import Step

_PAUSE_NS = 50_000_000
"""Between a command that has no answer and what follows."""
_UNKNOWN_NS = 1_500_000_000
"""For the answer to a question that this meter may not know."""
_TRY_NS = 400_000_000
"""The same, where the error queue is there to tell when an answer is late: that one is still learnt from."""
_MOST_NS = 60_000_000_000
_TIMES = 4
"""A meter that answers no question but the one for readings is waited for so many times longer after a miss:
there is no other way to tell a late answer from the next."""
_FORGOTTEN = 8
"""An answer that is so many times too late will not come any more."""


class Patience:
    """Of one meter."""

    def __init__(self, within_ns: int) -> None:
        """`within_ns`: how long to wait for a reading at first."""
        self._within_ns = self._first_ns = within_ns
        self._owed: deque[int] = deque(maxlen=8)
        """When the questions were sent that were given up, and may still be answered."""

    def restart(self) -> None:
        """Nothing that was asked will be answered any more."""
        self._owed.clear()

    def for_step(self, step: Step, known: Known) -> int:
        """Nanoseconds to wait after this was sent."""
        if not step.expects:
            return _PAUSE_NS
        if (
            known.answers(step.expects) or self._within_ns > self._first_ns
        ):  # one that was late may be so again
            return self._within_ns
        tries = step.expects == "function" and known.errors
        return min(self._within_ns, _TRY_NS if tries else _UNKNOWN_NS)

    def missed(self, asked_ns: int, known: Known) -> int:
        """A reading that was asked for then has not come; nanoseconds to wait for quiet."""
        self._owed.append(asked_ns)
        return self._within_ns * (1 if known.marker is not None else _TIMES)

    def late(self, at_ns: int, *, settling: bool) -> int | None:
        """A reading that had been given up has come: wait twice as long from now on, also for one still owed.

        Gives until when to wait for that while it is `settling`; None for nothing to change.
        """
        while self._owed and at_ns - self._owed[0] > _FORGOTTEN * self._within_ns:
            self._owed.popleft()
        if not self._owed:
            return None
        took = at_ns - self._owed.popleft()
        self._within_ns = min(max(self._within_ns, 2 * took), _MOST_NS)
        return self._owed[-1] + self._within_ns if self._owed and settling else None
