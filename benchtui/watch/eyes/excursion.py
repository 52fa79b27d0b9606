"""One excursion of a point from its course, reading by reading, until it is clear what became of it."""

from __future__ import annotations

from collections import deque

TURNS, SWING_PART, SWING_NS = 5, 0.35, 20_000_000_000
"""So many turns, each of this part of the peak at least, within so long are restlessness."""
HALF_HOME = 0.45
"""What never comes nearer to its level than this part of the peak stands elsewhere, however it hums there."""


BESIDE = 0.25
"""A former step of this part of a move leaves that its own way back."""
PAST_HOME = 2.0
"""A move that goes so many times as far as the way home goes elsewhere."""


class Home:
    """The level that a point left, to which it may still come back."""

    def __init__(
        self,
        number: int,
        since_ns: int,
        level: float,
        peak: float,
        band: float,
        noise: float,
        wander: float,
        until_ns: int,
    ) -> None:
        self.number = number
        self.since_ns = since_ns
        self.level = level
        self.peak = peak
        self.band = band
        self.noise = noise
        self.wander = wander
        self.until_ns = until_ns
        self.run = 0
        self.first_ns = 0
        self.away_ns = until_ns
        self._steps = 0.0
        self._last = 0.0

    def holds(self, t: int, x: float) -> bool:
        """Whether a reading is at home; `returned` says when that is a return."""
        if abs(x - self.level) > self.band:
            self.run = 0
            self.away_ns = t
            return False
        if self.run == 0:
            self.first_ns = t
        self._steps = 0.5 * self._steps + abs(x - self._last) if self.run else 0.0
        self._last = x
        self.run += 1
        return True

    def lies_on_the_way(self, level: float, peak: float) -> bool:
        """Whether a point that moves so from its present level may be going home, and not far past it."""
        back = self.level - level
        return back * peak > 0 and abs(peak) <= PAST_HOME * abs(back) + 2.0 * self.band

    def is_beside(self, e: Excursion) -> bool:
        """Whether an excursion began near here, for how far it went: home is then where that began.

        What left home by far has only paused on its way.
        """
        return max(abs(self.level - e.level), abs(self.peak)) <= BESIDE * abs(e.peak)

    def near(self, x: float, noise: float) -> bool:
        """Whether a reading could be one at home."""
        return abs(x - self.level) <= max(self.band, 3.0 * noise)

    @property
    def returned(self) -> bool:
        """Two readings in a row there, and not just passing by on a rise."""
        return self.run >= 2 and self._steps <= max(0.4 * self.band, 4.0 * self.noise)


class Excursion:
    """An open excursion. All deviations are from the level that was left."""

    def __init__(
        self, number: int, since_ns: int, level: float, peak: float, noise: float, wander: float, step: float,
        steady: bool, abrupt: bool, period_s: float, going_home: bool,
    ) -> None:  # fmt: skip
        self.number = number
        self.since_ns = since_ns
        self.level = level
        self.noise = noise
        self.wander = wander
        self.steady = steady
        self.abrupt = abrupt
        self.going_home = going_home
        self.told = False
        self.readings = 1
        self.first_back_ns = 0
        self.away_ns = since_ns
        self._told_peak = peak
        self._step = step
        self._extreme = peak
        self._rising = 0
        self._turns: deque[int] = deque(maxlen=TURNS)
        self._turned_at: deque[float] = deque(maxlen=TURNS)
        """How far off it was at each of them, counted the way of the peak."""
        self._told_restless = False
        self._back_run = 0
        self._calm = max(5.0 * noise, 2.0 * step, 0.004 * abs(level))
        """Where it steadied, its readings range over no more than this."""
        self._goes_to(peak)
        period = max(period_s, 0.02)
        self._window = int(min(max(round(1.5 / period), 6), 24))
        self._recent: deque[float] = deque(maxlen=self._window)
        self._recent_ns: deque[int] = deque(maxlen=self._window)
        self._patience_ns = int(max(25.0, 14 * period) * 1e9)

    def _goes_to(self, peak: float) -> None:
        """The peak, and what hangs on it."""
        self.peak, size = peak, abs(peak)
        scatter: float = (self.noise**2 + self.wander**2) ** 0.5
        self.band = min(max(0.25 * size, 3.5 * scatter, 2.0 * self._step), 0.5 * size)
        """How near the level counts as back."""
        self._swings = max(SWING_PART * size, 6.0 * self.noise, 3.0 * self._step)
        """A turn undoes at least so much."""

    def take(self, t: int, x: float) -> str:
        """`back`, `steady` (at another level), `lost` (neither for too long) or the empty string."""
        self.readings += 1
        off = x - self.level
        self._swing(t, off)
        if abs(off) > abs(self.peak) and off * self.peak > 0:
            self._goes_to(off)
        if self._is_back(t, off):
            return "back"
        if self._back_run:
            self._recent.clear()
            self._recent_ns.clear()
            return ""
        self._recent.append(x)
        self._recent_ns.append(t)
        if len(self._recent) == self._window and max(self._recent) - min(self._recent) <= self._calm:
            return "steady"
        return "lost" if t - self.since_ns > self._patience_ns else ""

    def _is_back(self, t: int, off: float) -> bool:
        rising_past = not self.steady and self.level * off >= 0
        if rising_past or abs(off) <= self.band:
            if self._back_run == 0:
                self.first_back_ns = t
            self._back_run += 1
            return self._back_run >= 2
        self._back_run = 0
        self.away_ns = t
        return False

    def _swing(self, t: int, off: float) -> None:
        """Notes each turn of direction that undoes a good part of the peak."""
        up, least = off - self._extreme, self._swings
        if self._rising * up > 0 or not self._rising:
            if abs(up) > least or self._rising:
                self._rising = 1 if up > 0 else -1
                self._extreme = off
        elif abs(up) > least:
            self._turned_at.append(self._extreme if self.peak > 0 else -self._extreme)
            self._turns.append(t)
            self._rising = -self._rising
            self._extreme = off

    def restless(self, t: int) -> bool:
        """Whether the newest reading makes it restless: the nth turn within a short time, told once."""
        full = len(self._turns) == TURNS and self._turns[-1] == t and t - self._turns[0] <= SWING_NS
        full = full and min(self._turned_at) <= HALF_HOME * abs(self.peak)
        told, self._told_restless = self._told_restless, self._told_restless or full
        return full and not told

    def deeper(self) -> bool:
        """Whether the peak has grown enough to be told again."""
        if abs(self.peak) > 1.25 * abs(self._told_peak):
            self._told_peak = self.peak
            return True
        return False

    def steady_level(self) -> float:
        values = sorted(self._recent)
        return values[len(values) // 2]

    def steady_since_ns(self) -> int:
        return self._recent_ns[0]

    def as_home(self, t: int, wait_s: float) -> Home:
        band = max(min(self.band, 0.03 * abs(self.level)), 0.01 * abs(self.level))
        until = max(self.since_ns, t) + int(wait_s * 1e9)
        home = Home(self.number, self.since_ns, self.level, self.peak, band, self.noise, self.wander, until)
        home.away_ns = self.away_ns
        return home
