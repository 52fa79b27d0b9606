"""When a run begins and ends.

The mains meter says it first, then a mark, then the heaters; B+ alone rises late, and it also falls when a
fuse or a rectifier goes, so that its fall ends a run only where nothing better is known.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from benchtui.model.notes import Mark
from benchtui.model.units import Unit
from benchtui.watch.signals import Grain, Rose, WentCold

from .beginning import begins_with_the_record, first_live_ns, stood_before
from .desk import Desk
from .live_again import SURE_PART, LiveAgain
from .track import Track
from .verdict import SURELY_LATE_S

WAY_DOWN = 0.75
"""What has lost more than the rest of its greatest value goes down: no load of a valve takes as much. Common
practice, no source."""
LOOK_BACK_NS = 30_000_000_000
SLOW_TO_FALL_NS = 500_000_000
"""A heater that is still fed so long after the mains meter went to nothing has its power."""
FILLS_NS, FALLS_NS, FALLEN = 4_000_000_000, 20_000_000_000, 0.95
"""So long after power-off what rises may be filling from what was charged; until the second it has, if it is
at or below the third part of what it rose to. Common practice, no source."""
CREEPS_NS, CREPT_UP = 3_000_000_000, 2.0
"""What has risen for longer began to when it last read no more than so many times what it read at first."""
TAPPED_NS = 60_000_000_000
"""So long one waits whether what fell silent after a tap comes back. Common practice, no source."""
FULLER, NOT_RISEN = 0.95, 1.1
"""A point that holds at least this part of what another reads, and no more than this part of its own least
since power-off, is what the other one fills from."""
SET_KINDS = (
    "outside", "creep", "dropout", "step", "chatter", "drift", "limit", "settled", "unsettled", "starved",
    "fed_but_out", "mains", "departs",
)  # fmt: skip


class Power:
    """Keeps `running`, `run`, `on_ns` and `off_ns` of the desk."""

    def __init__(self, desk: Desk, on: Callable[[int], None], off: Callable[[int, int | None], None]) -> None:
        self._desk = desk
        self._on = on
        self._off = off
        self._rising: dict[str, int] = {}
        self._lowest: dict[str, tuple[float, int]] = {}
        self._again = LiveAgain(desk, self._fills_from_another, self._is_live)

    def mark(self, mark: Mark) -> None:
        if mark.kind == "on":
            self._desk.by_mark = True
            if not self._desk.running:
                self.power_on(mark.t_ns, "mark")
        elif mark.kind == "off":
            self._desk.by_mark = True
            if self._desk.running:
                self.power_off(mark.t_ns, "mark")

    def rose(self, track: Track, signal: Rose) -> None:
        if self._desk.running:
            return
        self._again.ask()
        if track.is_mains:
            self._mains_rose(track, signal.since_ns)
            return
        looks = track.name in self._rising
        self._rising[track.name] = signal.since_ns
        if not looks:
            self._look_again(track)

    def _mains_rose(self, track: Track, since_ns: int) -> None:
        """Power on, unless a late meter may only now show a short run whose end has been marked."""
        desk = self._desk
        late_ns = int((SURELY_LATE_S + track.period_s) * 1e9)
        if not desk.by_mark or desk.off_ns is None or since_ns - desk.off_ns > late_ns:
            self.power_on(since_ns, "mains")
            return

        def look() -> None:
            if not desk.running and not track.reads_nothing(desk.now_ns):
                self.power_on(since_ns, "mains")

        desk.after(since_ns + late_ns, look)

    def _look_again(self, track: Track) -> None:
        desk = self._desk

        def look() -> None:
            since = self._rising.get(track.name)
            if since is None or desk.running or track.cold or desk.tracks.get(track.name) is not track:
                self._rising.pop(track.name, None)
                return
            level = track.level(desk.now_ns, 1) or 0.0
            size = abs(track.point.nominal or track.point.high or 0.0)
            dead = not track.is_heater and (self._is_dead(track) or self._only_fills(track, since))
            if abs(level) >= SURE_PART * size and not dead and not self._falls(track, since, WAY_DOWN):
                self._rising.pop(track.name, None)
                self.power_on(self._rose_at(track, since), "heater" if track.is_heater else "rise")
            else:
                self._look_again(track)

        waited_ns = desk.now_ns - self._rising[track.name]
        desk.after(desk.now_ns + max(700_000_000, waited_ns // 8), look)

    def _rose_at(self, track: Track, since_ns: int) -> int:
        """When the power came: charge that comes back by itself may have crept up for long before."""
        if self._desk.now_ns - since_ns < CREEPS_NS:
            return since_ns
        first_ns = max(since_ns, self._desk.now_ns - LOOK_BACK_NS)
        t, x = track.segment.history.between(first_ns - 1, self._desk.now_ns)
        low = np.flatnonzero(np.abs(x) <= CREPT_UP * abs(float(x[0]))) if len(x) else t
        return int(t[min(low[-1] + 1, len(t) - 1)]) if len(low) else since_ns

    def _is_dead(self, track: Track) -> bool:
        """Whether what rises at a point can't be the power's."""
        desk = self._desk
        return desk.mains_is_dead() or desk.heaters_are_dead() or self._fills_from_another(track)

    def _is_live(self, since_ns: int, source: str) -> None:
        """Readings show it, though no eye has told a rise."""
        if source:
            self.power_on(since_ns, source)
        else:
            self._runs_since(since_ns)

    def _runs_since(self, first_ns: int) -> None:
        """The set is in a run that nobody saw begin."""
        desk = self._desk
        desk.running, desk.run, desk.on_ns = True, 1, None
        desk.since_ns = first_ns

    def _only_fills(self, track: Track, since_ns: int) -> bool:
        """Whether what rose since a power-off may be what was charged, and is on its way down again.

        Who marks the power marks the next switch-on too.
        """
        desk = self._desk
        if desk.off_ns is None or desk.now_ns - desk.off_ns >= FALLS_NS:
            return False
        return desk.by_mark or self._falls(track, since_ns) or desk.now_ns - desk.off_ns < FILLS_NS

    def _falls(self, track: Track, since_ns: int, part: float = FALLEN) -> bool:
        """Whether what rose is on its way down again: below this part of its greatest value."""
        _, x = track.segment.history.between(since_ns - 1, self._desk.now_ns)
        return len(x) > 0 and abs(float(x[-1])) < part * float(np.abs(x).max())

    def grain(self, track: Track, signal: Grain) -> None:
        """A set that is on when the record begins is in a run that nobody saw begin."""
        desk = self._desk
        if not desk.running:
            self._again.ask()
        self._risen_again(track, signal)
        if desk.running or desk.run or desk.off_ns is not None or track.is_mains:
            return
        if self._rising or track.cold or desk.powers_nothing(track):
            return
        if abs(signal.level) > 3 * track.segment.course.cold and not desk.mains_is_dead():
            if begins_with_the_record(desk, signal):
                self.power_on(first_live_ns(desk), "rise")
                return
            self._runs_since(signal.first_ns)

    def _risen_again(self, track: Track, signal: Grain) -> None:
        """A set that is switched on again before it has come down shows no rise from the cold level."""
        desk = self._desk
        if desk.running or desk.off_ns is None or track.unit is not Unit.V or desk.mains() is not None:
            self._lowest.pop(track.name, None)
            return
        level, name = abs(signal.level), track.name
        lowest = self._lowest.get(name)
        if lowest is None or level <= lowest[0]:
            self._lowest[name] = (level, signal.at_ns)
            return
        risen = level > max(1.5 * lowest[0], 2.0 * SURE_PART * abs(track.point.nominal or 1e9))
        if not risen or desk.heaters_are_dead() or self._fills_from_another(track):
            return
        if self._only_fills(track, lowest[1]):
            if self._falls(track, lowest[1]):
                self._lowest[name] = (level, signal.at_ns)
        else:
            self.power_on(lowest[1], "rise")

    def _fills_from_another(self, track: Track) -> bool:
        """Whether another point holds more and does not rise: as valves cool, its charge comes here."""
        desk = self._desk
        level = abs(track.level(desk.now_ns) or 0.0)
        if track.unit is not Unit.V:
            return False
        for other in desk.tracks.values():
            lowest = self._lowest_of(other)
            if other is track or other.unit is not Unit.V or lowest is None or not other.fresh(desk.now_ns):
                continue
            size = abs(other.level(desk.now_ns) or 0.0)
            if size >= FULLER * level and size <= NOT_RISEN * lowest:
                return True
        return False

    def _lowest_of(self, track: Track) -> float | None:
        """The least that a point has read since power-off."""
        desk = self._desk
        if track.name in self._lowest:
            return self._lowest[track.name][0]
        if desk.off_ns is None:
            return None
        _, x = track.segment.history.between(desk.off_ns, desk.now_ns)
        return float(np.abs(x).min()) if len(x) else None

    def cooled(self, track: Track, signal: WentCold) -> None:
        desk = self._desk
        if not desk.running:
            return
        if desk.on_ns is not None and signal.since_ns <= desk.on_ns:
            return
        if track.is_mains:
            self._mains_cold(track, signal)
            return
        heaters = self._desk.heaters()
        if track.is_heater:
            self._heater_cold(track, signal, heaters)
            return
        if desk.mains() is not None:
            return
        if not heaters and not desk.by_mark:
            self._all_cold(signal)

    def _mains_cold(self, track: Track, signal: WentCold) -> None:
        """The mains meter shows nothing: the power is off, unless a heater is fed (its lead slipped)."""
        desk = self._desk
        heaters = [h for h in self._desk.heaters() if not h.cold]
        if not heaters:
            self.power_off(signal.since_ns, "mains", _unsure_ns(track))
            return
        run = desk.run

        def look() -> None:
            if not desk.running or desk.run != run:
                return
            if any(self._reads_on(h, signal.since_ns) for h in heaters):
                return
            self.power_off(signal.since_ns, "mains", _unsure_ns(track))

        slowest = max(h.period_s for h in heaters)
        desk.after(signal.since_ns + SLOW_TO_FALL_NS + int(1.2 * slowest * 1e9), look)

    def _heater_cold(self, track: Track, signal: WentCold, heaters: list[Track]) -> None:
        """All heaters cold and B+ falling: the power is off. One heater alone is a joint."""
        desk = self._desk

        def look() -> None:
            if not desk.running or not track.cold or not all(h.cold for h in heaters):
                return
            mains = desk.mains()
            if mains is not None and self._reads_on(mains, signal.since_ns):
                return
            points = [t for t in desk.tracks.values() if not t.is_heater and not t.is_mains]
            supplies = [t for t in points if t.point.follows_mains]
            for t in supplies:
                before, now = desk.value(t.name, signal.from_ns), t.newest(desk.now_ns)
                read = now is not None and now[0] > signal.from_ns and t.fresh(desk.now_ns)
                if before and now is not None and read and abs(now[1]) > 0.96 * abs(before):
                    return
            self.power_off(signal.since_ns, "heater", _since_live_ns(track, signal.since_ns))

        desk.after(signal.at_ns + 1_500_000_000, look)
        desk.after(signal.at_ns + 6_000_000_000, look)

    def _reads_on(self, track: Track, since_ns: int) -> bool:
        """Whether a meter still reads power well after an instant: it may be slow, and not have read yet."""
        now_ns = self._desk.now_ns
        newest = track.newest(now_ns)
        late = newest is not None and newest[0] > since_ns + SLOW_TO_FALL_NS
        return late and not track.reads_nothing(now_ns)

    def _all_cold(self, signal: WentCold) -> None:
        if self._nothing_reads():
            self.gone(signal.from_ns)

    def _nothing_reads(self) -> bool:
        desk = self._desk
        live = [t for t in desk.tracks.values() if t.unit.is_voltage and t.fresh(desk.now_ns)]
        return all(t.cold or (t.stood_before and desk.powers_nothing(t)) for t in live)

    def gone(self, start_ns: int) -> None:
        """All that is read went, and no AC meter tells why: the set was switched off, or fell silent under
        the hand that had just tapped it, which shows if it comes back."""
        desk, run = self._desk, self._desk.run
        if not desk.follows_tap(start_ns):
            self.power_off(start_ns, "B+")
            return

        def look() -> None:
            if desk.running and desk.run == run and self._nothing_reads():
                self.power_off(start_ns, "B+")

        desk.after(start_ns + TAPPED_NS, look)

    def power_on(self, start_ns: int, source: str) -> None:
        desk = self._desk
        desk.running, desk.on_ns, desk.off_ns, desk.since_ns = True, start_ns, None, None
        desk.run += 1
        desk.began_ns = start_ns
        evidence = {"source": source, "run": desk.run}
        number = desk.log.open(desk.now_ns, "power_on", None, start_ns, start_ns, evidence)
        desk.log.close(desk.now_ns, number, start_ns)
        self._rising.clear()
        self._lowest.clear()
        for track in desk.tracks.values():
            track.stood_before = stood_before(desk, track, start_ns)
        self._on(start_ns)

    def power_off(self, start_ns: int, source: str, unsure_ns: int | None = None) -> None:
        """`unsure_ns`: how long before that the power may have gone; None: as each meter's rate says."""
        desk = self._desk
        start_ns = max(start_ns, desk.on_ns or 0)
        evidence = {"source": source, "run": desk.run}
        if desk.on_ns is not None:
            evidence["on_for_s"] = (start_ns - desk.on_ns) / 1e9
        self._off(start_ns, unsure_ns)
        number = desk.log.open(desk.now_ns, "power_off", None, start_ns, start_ns, evidence)
        desk.log.close(desk.now_ns, number, start_ns)
        unsure = unsure_ns if unsure_ns is not None else SLOW_TO_FALL_NS
        desk.close_all(desk.now_ns, start_ns, SET_KINDS, start_ns - unsure)
        desk.running, desk.on_ns, desk.off_ns = False, None, start_ns
        self._again.run_ends(start_ns)


def _since_live_ns(track: Track, since_ns: int) -> int:
    """From a heater's last reading with most of its voltage to its first without any."""
    t, x = track.segment.history.between(since_ns - LOOK_BACK_NS, since_ns - 1)
    size = np.abs(x)
    live = np.flatnonzero(size > 0.5 * float(size.max(initial=0.0)))
    last = int(t[live[-1]]) if len(live) else since_ns
    return since_ns - last + SLOW_TO_FALL_NS


def _unsure_ns(track: Track) -> int:
    """A meter that shows the power itself tells its end to within a reading."""
    return int((1.2 * track.period_s + 0.5) * 1e9)
