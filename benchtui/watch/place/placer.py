"""The placer: sees the eyes' few signals and the notes in order of time, and hands each to who knows."""

from __future__ import annotations

from collections.abc import Callable

from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.model.notes import Mark, Trouble
from benchtui.model.units import Unit
from benchtui.watch.eyes.segment import Segment
from benchtui.watch.foresee.foresight import Foresight
from benchtui.watch.signals import (
    Away,
    Back,
    Deeper,
    Followed,
    Grain,
    Lost,
    MeterSays,
    NotOver,
    Over,
    Rose,
    Signal,
    State,
    Stayed,
    Steadied,
    Swinging,
    WentCold,
)

from .banding import Banding
from .bleeding import Bleeding
from .bringing import Bringing
from .cluster import Cluster
from .desk import Desk
from .drifting import Drifting
from .lamps import Lamps
from .leaning import Leaning
from .log import Log
from .meters import Meters
from .moves import Moves
from .power import Power
from .raising import Raising
from .ratings import Ratings
from .restless import Restless
from .settling import Settling
from .shifts import Shifts
from .supply import Supply
from .track import Track


class Placer:
    """Plain reasoning, one signal at a time. It alone opens, amends, merges, closes, withdraws findings."""

    def __init__(self, chart: Chart, settings: Settings, log: Log) -> None:
        self.desk = Desk(chart, settings, log)
        self.on_run: Callable[[int], None] = lambda at_ns: None
        """Told of each power-on."""
        self.power = Power(self.desk, self._run_begins, self._run_ends)
        self.meters = Meters(self.desk)
        self.ratings = Ratings(self.desk)
        self.moves = Moves(self.desk)
        gathered = self.moves.gathered
        self.settling = Settling(self.desk)
        self.banding = Banding(self.desk, gathered.explains)
        self.lamps = Lamps(self.desk, gathered.explains)
        self.drifting = Drifting(self.desk, gathered.mains_moved, gathered.mains_stepped)
        self.leaning = Leaning(self.desk, gathered.explains, gathered.fault_at, gathered.mains_moved)
        self.leaning.is_no_news = gathered.is_no_news
        self.supply = Supply(self.desk, gathered.newest_mains)
        self.shifts = Shifts(self.desk, gathered)
        self.restless = Restless(self.desk)
        self.moves.restless = self.restless.level
        self.moves.deciding.creeps_with_mains = self.supply.carries_along
        self.moves.bursts.restless_until = self.restless.until
        self.restless.mains_moved = gathered.mains_moved
        self.bleeding = Bleeding(self.desk)
        self.raising = Raising(self.desk)
        self.bringing = Bringing(self.desk)
        self.moves.on_brought_up = self.bringing.away
        self.moves.is_its_own = self.bringing.is_its_own
        self.moves.shows_turn_ns = self.bringing.shows_turn_ns
        self.moves.deciding.is_raised = self.raising.is_raised
        self.foresight = Foresight(self.desk)
        self.moves.deciding.revising.on_fault = self._fault
        self.moves.deciding.on_power_gone = self.power.gone
        self.moves.deciding.on_mains = self._mains

    def lead_on(self, segment: Segment) -> Track:
        """A lead has come to a point: all that is known of the point begins anew."""
        track = self.desk.tracks[segment.point.name] = Track(segment, self.desk)
        self.desk.leads_moved()
        return track

    def lead_off(self, track: Track, at_ns: int) -> None:
        """A lead has left its point."""
        self.desk.now_ns = max(self.desk.now_ns, at_ns)
        if self.desk.tracks.get(track.name) is track:
            del self.desk.tracks[track.name]
        self.desk.leads_moved()
        self.meters.lead_gone(track.name, at_ns)
        self.moves.lead_gone(track, at_ns)
        self.lamps.lead_gone(track.name, at_ns)
        self.ratings.lead_gone(track.name, at_ns)
        self.banding.lead_gone(track.name, at_ns)
        self.drifting.lead_gone(track.name, at_ns)
        self.leaning.lead_gone(track.name, at_ns)
        self.supply.lead_gone(track, at_ns)
        self.bringing.lead_gone(track.name, at_ns)
        self.restless.lead_gone(track.name, at_ns)
        self.foresight.lead_gone(track.name)

    def note(self, note: Mark | Trouble) -> None:
        self.desk.now_ns = note.t_ns
        if isinstance(note, Trouble):
            self.meters.trouble(note)
            return
        self.desk.marks.append(note)
        self.power.mark(note)

    def signal(self, track: Track, signal: Signal) -> None:
        self.desk.now_ns = signal.at_ns
        match signal:
            case Grain():
                self._grain(track, signal)
            case Away():
                if not self.leaning.returns(track, signal):
                    self.moves.away(track, signal)
                self.drifting.moved(track)
                self.leaning.moved(track)
                self.supply.away(track, signal)
            case Followed():
                self.shifts.followed(track, signal)
            case Deeper():
                self.moves.deeper(track, signal)
            case Back():
                self.moves.back(track, signal)
                self.supply.back(track)
                self.banding.back(track, signal)
                self.drifting.moved(track)
                self.leaning.moved(track)
            case Steadied():
                self.moves.steadied(track, signal)
                self.supply.steadied(track, signal)
                self.drifting.moved(track)
                self.leaning.moved(track)
                self._tube(track, signal)
            case Stayed():
                self.moves.stayed(track, signal)
            case Swinging():
                self.moves.swinging(track, signal)
            case Lost():
                self.moves.lost(track, signal)
            case Rose():
                track.cold = False
                self.power.rose(track, signal)
            case WentCold():
                track.cold = True
                self.power.cooled(track, signal)
            case Over():
                self.ratings.over(track, signal)
            case NotOver():
                self.ratings.not_over(track, signal)
            case State():
                self.lamps.state(track, signal)
            case MeterSays():
                self.meters.says(track, signal)

    def _fault(self, cluster: Cluster) -> None:
        self.lamps.tubes_of(cluster)
        self.drifting.disturbed()

    def _mains(self, cluster: Cluster) -> None:
        self.meters.all_should_move(cluster)
        self.raising.mains_moved(cluster)

    def _tube(self, track: Track, signal: Steadied) -> None:
        if track.point.glow is not None and track.unit is Unit.V:
            number = self.moves.gathered.of_point(track.name)
            if number is not None:
                start = self.desk.log.get(number).start_ns
                self.lamps.moved(track, number, start, abs(signal.level))

    def _grain(self, track: Track, signal: Grain) -> None:
        if track.cold and abs(signal.level) > track.segment.course.cold:
            newest = track.newest(signal.at_ns)
            track.cold = newest is None or abs(newest[1]) <= track.segment.course.cold
        track.grains.append(signal)
        if (self.desk.raised_ns is not None or track.is_mains) and self.desk.being_brought_up:
            self.desk.low_ns = signal.at_ns
        self.power.grain(track, signal)
        self.settling.grain(track, signal)
        self.banding.grain(track, signal)
        self.drifting.grain(track, signal)
        self.leaning.grain(track, signal)
        self.supply.grain(track, signal)
        self.raising.grain(track, signal)
        self.bringing.grain(track, signal)
        self.restless.grain(track, signal)
        self.foresight.grain(track, signal)

    def _run_begins(self, at_ns: int) -> None:
        self.on_run(at_ns)
        self.desk.low_ns = None
        self.moves.run_begins()
        self.settling.run_begins()
        self.banding.run_begins()
        self.drifting.run_begins()
        self.leaning.run_begins()
        self.supply.run_begins()
        self.shifts.run_begins()
        self.raising.run_begins()
        self.bringing.run_begins()
        self.restless.run_begins()
        self.lamps.run_begins()
        self.foresight.run_begins(at_ns)

    def _run_ends(self, off_ns: int, unsure_ns: int | None) -> None:
        self.moves.run_ends(off_ns, unsure_ns)
        self.lamps.run_ends()
        self.bleeding.run_ends(off_ns)
        self.foresight.run_ends(off_ns)
