"""What is known of one station on a Modbus line: how long to wait for it, whether old answers may come."""

from __future__ import annotations

from dataclasses import dataclass

_QUIET_NS = 200_000_000
"""So long nothing must come after a miss of a station that can return a number."""
_STRIKES = 2
"""After so many in vain, a station is taken for one that cannot return a number."""
_PATIENT_TIMES = 4
"""A station that returns no number is waited for so many times longer after a miss."""
_MOST_TIMES = 16
"""So many times longer than the bench entry says a slow station is waited for."""
_ASLEEP = 3
"""Misses in a row; such a station is asked only now and then."""
_ASLEEP_NS = 10_000_000_000


@dataclass(slots=True)
class Station:
    """One station, as far as its answers have told."""

    within_ns: int
    """How long to wait for an answer."""
    most_ns: int
    answered: bool = False
    returns: bool | None = None
    """Whether it answers a request to return a number; None if that is not known."""
    doubt: bool = False
    """Whether an old answer of its may still come."""
    misses: int = 0
    """In a row."""
    rests_until_ns: int = 0
    _strikes: int = 0
    """Requests to return a number that it has not answered, while that is not known."""
    _excuses: int = 1
    """How often yet a late answer explains that no number came back."""

    @staticmethod
    def fresh(within_ns: int) -> Station:
        """Of which nothing is known."""
        return Station(within_ns, _MOST_TIMES * within_ns)

    @property
    def may_return(self) -> bool:
        """Only one that has answered before: then it is known whether the line returns what is sent."""
        return self.answered and self.returns is not False

    def heard(self, *, marker: bool) -> bool:
        """It has answered; `marker`: with a number. Gives whether that can only be of the last question."""
        sure = marker or self.answered or not self.misses
        self.answered, self.doubt, self.misses = True, not sure, 0
        self.returns = True if marker else self.returns
        return sure

    def missed(self, *, marker: bool, may_return: bool) -> int:
        """It has not answered in time. Gives how long to wait for quiet, in nanoseconds."""
        self.misses += 1
        quiet_ns = self.within_ns * (_PATIENT_TIMES if self.answered else 1)
        if marker:
            self._strikes += 1  # one that could before is only slow, or gone
            if self.returns is None and self._strikes >= _STRIKES:
                self.returns = False
            self.doubt = self.returns is not False
        elif may_return:
            self.doubt, quiet_ns = True, max(_QUIET_NS, self.within_ns // 4)
        return quiet_ns

    def late(self) -> None:
        """An old answer of its has come: from now on it is given twice the time, also to return a number."""
        self.doubt = True
        if not self.returns and self._excuses:  # while it is behind, silence says nothing of that
            self.returns, self._strikes, self._excuses = None, 0, self._excuses - 1
        self.within_ns = min(2 * self.within_ns, self.most_ns)

    def falls_asleep(self, at_ns: int, every_ns: int) -> bool:
        """Whether it is to be asked only now and then from here on: nobody is there."""
        if self.misses < _ASLEEP:
            return False
        self.rests_until_ns = at_ns + max(_ASLEEP_NS, every_ns)
        self.answered = self.doubt = False
        return True

    @property
    def has_just_gone(self) -> bool:
        """Whether this was the miss that told."""
        return self.misses == _ASLEEP
