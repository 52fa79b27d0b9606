"""The eye on the meter's own manners: silence, overload, frozen readings, another function, turned leads."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np

from benchtui.model.readings import Bools, Floats, Ints
from benchtui.watch.signals import MeterSays, Signal

GAP_PERIODS, GAP_LEAST_S, GAP_UNKNOWN_S = 6.0, 2.0, 12.0
"""No reading for so many periods, and at least so long, is a gap; the last while the period is unknown."""
GAP_FIRST_PERIODS = 3.0
"""Of a meter so slow, or read by hand, that fewer than nine readings have come."""
FROZEN_LEAST, FROZEN_LEAST_S = 30, 5.0
FROZEN_CHANCE = 1e-9
"""So unlikely must a run of equal readings be, from the greatest part of repeats that the point has shown."""
FROZEN_MOST = 0.85
"""A point that repeats itself more than this is too quiet to tell."""


def forbidden(same: float, chance: float) -> int:
    """How many equal readings are less likely than this chance; `same`: the part known to repeat."""
    return int(math.log(chance) / math.log(min(same + 0.2, 0.97))) + 1


class Silence:
    """Gaps between readings of one segment; any reading counts, flagged or not."""

    def __init__(self, since_ns: int) -> None:
        """`since_ns`: when the lead came to the point; a meter that never sends is told too."""
        self.last_ns = since_ns
        self.never = True
        """No reading has ever come."""
        self.open = False
        self.period_s = 0.0
        self.known_ns = 0
        """When the period became known; 0 before."""
        self._first: list[int] = []

    @property
    def patience_ns(self) -> int:
        if self.period_s == 0.0:
            return self._patience_at_first_ns()
        return int(max(GAP_PERIODS * self.period_s, GAP_LEAST_S) * 1e9)

    def _patience_at_first_ns(self) -> int:
        spacings = sorted(b - a for a, b in pairwise(self._first))
        usual_ns = spacings[len(spacings) // 2] if spacings else 0
        return max(int(GAP_FIRST_PERIODS * usual_ns), int(GAP_UNKNOWN_S * 1e9))

    def take(self, t: Ints) -> list[Signal]:
        """Readings came at these times."""
        out: list[Signal] = []
        i = 0
        while self.period_s == 0.0 and i < len(t):
            self._step(int(t[i]), out)
            self._first.append(int(t[i]))
            if len(self._first) == 9:
                gaps = np.sort(np.diff(np.asarray(self._first)))
                self.period_s = max(float(gaps[4]) * 1e-9, 1e-3)
                self.known_ns = int(t[i])
            i += 1
        if i == len(t):
            return out
        self._step(int(t[i]), out)
        if i + 1 < len(t):
            for j in (t[i + 1 :] - t[i:-1] > self.patience_ns).nonzero()[0].tolist():
                self.last_ns = int(t[i + j])
                self._step(int(t[i + j + 1]), out)
            self.last_ns = int(t[-1])
        return out

    def _step(self, t: int, out: list[Signal]) -> None:
        if not self.open and t - self.last_ns > self.patience_ns:
            out.append(self._opened())
        if self.open:
            self.open = False
            out.append(MeterSays(t, "gap", self.last_ns, t))
        self.last_ns, self.never = t, False

    def nothing_until(self, upto_ns: int) -> list[Signal]:
        """No reading has come up to this instant."""
        if self.open or upto_ns - self.last_ns <= self.patience_ns:
            return []
        return [self._opened()]

    def _opened(self) -> MeterSays:
        self.open = True
        said = (("never", True),) if self.never else ()
        return MeterSays(self.last_ns + self.patience_ns + 1, "gap", self.last_ns, None, said)


class Repeated:
    """A condition on readings in a row: opens at the nth if it has lasted, ends at the first without."""

    def __init__(self, kind: str, at_least: int, at_least_s: float = 0.0) -> None:
        self.kind = kind
        self.open = False
        self._least = at_least
        self._least_ns = int(at_least_s * 1e9)
        self._run = 0
        self._since = 0

    def take(self, t: Ints, bad: Bools) -> list[Signal]:
        """`bad` says for each reading whether the condition holds."""
        if not self._run and not np.count_nonzero(bad):
            return []
        out: list[Signal] = []
        for at, is_bad in zip(t.tolist(), bad.tolist(), strict=True):
            if is_bad:
                if self._run == 0:
                    self._since = at
                self._run += 1
                long = self._run >= self._least and at - self._since >= self._least_ns
                if long and not self.open:
                    self.open = True
                    out.append(MeterSays(at, self.kind, self._since, None))
            elif self._run:
                if self.open:
                    out.append(MeterSays(at, self.kind, self._since, at))
                self._run = 0
                self.open = False
        return out


class Frozen:
    """Equal readings in a row from a point whose noise, seen before, forbids it."""

    def __init__(self, repeats_at: Callable[[int, float], float]) -> None:
        """`repeats_at(t_ns, value)`: the part of readings that repeat the one before, as known; else 1."""
        self.open = False
        self._repeats_at = repeats_at
        self._value = float("nan")
        self._since = 0
        self._run = 0
        self._least: int | None = 0
        """Equal readings from which on it is frozen; 0 where that can't be told, None where not asked yet."""
        self._same = 1.0

    def take(self, t: Ints, x: Floats) -> list[Signal]:
        out: list[Signal] = []
        if len(x) < FROZEN_LEAST:
            for i, value in enumerate(x.tolist()):
                if value == self._value:
                    self._extend(t, i, i + 1, out)
                else:
                    self._begin(int(t[i]), value, out)
            return out
        begins = np.flatnonzero(x != np.concatenate(([self._value], x[:-1])))
        ends = np.append(begins[1:], len(x))
        first_end = int(begins[0]) if len(begins) else len(x)
        if first_end:
            self._extend(t, 0, first_end, out)
        if len(begins):
            self._end(int(t[begins[0]]), out)
        long = (ends - begins) >= FROZEN_LEAST
        if len(long):
            long[-1] = True
        for a, b in zip(begins[long].tolist(), ends[long].tolist(), strict=True):
            self._begin(int(t[a]), float(x[a]), out)
            self._extend(t, a + 1, b, out)
            if b < len(x):
                self._end(int(t[b]), out)
        return out

    def _begin(self, at: int, value: float, out: list[Signal]) -> None:
        self._end(at, out)
        self._value, self._since, self._run = value, at, 1
        self._least = None

    def _needed(self) -> int:
        """How many equal readings the point's own noise forbids, from what was known when they began."""
        self._same = self._repeats_at(self._since, self._value)
        return max(forbidden(self._same, FROZEN_CHANCE), FROZEN_LEAST) if self._same <= FROZEN_MOST else 0

    def _end(self, at: int, out: list[Signal]) -> None:
        if self.open:
            out.append(MeterSays(at, "frozen", self._since, at))
            self.open = False

    def _extend(self, t: Ints, begin: int, end: int, out: list[Signal]) -> None:
        if self.open or self._least == 0:
            return
        few = min(end - begin, max(FROZEN_LEAST - 1 - self._run, 0))
        self._run += few
        for i in range(begin + few, end):
            self._run += 1
            if self._least is None:
                self._least = self._needed()
            if not self._least:
                return
            if self._run >= self._least and int(t[i]) - self._since >= FROZEN_LEAST_S * 1e9:
                self.open = True
                said = (("value", self._value), ("readings", self._run), ("repeats_before", self._same))
                out.append(MeterSays(int(t[i]), "frozen", self._since, None, said))
                return
