"""The bank: every watcher over one timeline, fed block by block."""

from __future__ import annotations

from collections.abc import Sequence
from operator import itemgetter

import numpy as np
from numpy.typing import NDArray

from benchtui.chart.chart import Chart, Point
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.errors import BenchError
from benchtui.model.findings import Event, Folding
from benchtui.model.notes import Lead, Mark, Note, Trouble
from benchtui.model.readings import Channel, Readings
from benchtui.model.units import Unit

from .charged import Watch
from .eyes.segment import Segment
from .place.log import Log
from .place.placer import Placer
from .place.track import Track
from .signals import Signal

NONE = Readings.empty()
ROWS, OF_ONE = 32_768, 8192
"""Readings that the eyes may run ahead of the placer, and of one channel; the second is small against what a
history keeps."""


class Bank:
    """All watchers together. The events do not depend on how the timeline was cut into blocks."""

    def __init__(self, chart: Chart, channels: Sequence[Channel], settings: Settings) -> None:
        self.chart = chart
        self.channels = tuple(channels)
        self.settings = settings
        self.folding = Folding()
        self.log = Log(self.folding)
        self.placer = Placer(chart, settings, self.log)
        self.hazard = Watch()
        self.placer.on_run = self.hazard.run_begins
        self.leads: dict[int, Track] = {}
        """Which track each channel's readings belong to now."""
        self.upto_ns = -1

    def feed(self, block: Block) -> list[Event]:
        """Takes the next block; gives the events that became known in it, in order of `seq`.

        Raises:
            BenchError: the block goes back behind what was already fed.
        """
        if block.upto_ns < self.upto_ns:
            raise BenchError("readings came out of order: a block ends before the one that came before it")
        readings = block.readings
        others = [n for n in block.notes if not isinstance(n, Lead)]
        at = told = 0
        for note in (n for n in block.notes if isinstance(n, Lead)):
            row = int(np.searchsorted(readings.t_ns, note.t_ns, side="left"))
            until = told
            while until < len(others) and others[until].t_ns < note.t_ns:
                until += 1
            self._stretch(readings.take(slice(at, row)), self._since(others[told:until]), note.t_ns - 1)
            told = until
            self._move_lead(note)
            at = row
        self._stretch(readings.take(slice(at, None)), self._since(others[told:]), block.upto_ns)
        return self.log.take_new()

    def _since(self, notes: Sequence[Note]) -> list[Mark | Trouble]:
        """The notes that were not yet handed on."""
        return [n for n in notes if not isinstance(n, Lead) and n.t_ns > self.upto_ns]

    def _move_lead(self, lead: Lead) -> None:
        old = self.leads.pop(lead.channel, None)
        if old is not None:
            self.placer.lead_off(old, lead.t_ns)
        if lead.point is None or not 0 <= lead.channel < len(self.channels):
            return
        other = self.placer.desk.tracks.get(lead.point)
        if other is not None:
            self.leads = {c: t for c, t in self.leads.items() if t is not other}
            self.placer.lead_off(other, lead.t_ns)
        point = self.chart.point(lead.point) or Point(lead.point, Unit.UNKNOWN)
        segment = Segment(self.channels[lead.channel], point, lead.t_ns, self.settings.false_alarms_per_h)
        self.leads[lead.channel] = self.placer.lead_on(segment)

    def _stretch(self, readings: Readings, notes: list[Mark | Trouble], upto_ns: int) -> None:
        """Readings between two moves of a lead, in pieces that the placer can look back on."""
        a = 0
        while len(readings) - a > (many := _piece_length(readings.channel[a:])):
            b = int(np.searchsorted(readings.t_ns, readings.t_ns[a + many], side="left"))
            b = b if b > a else int(np.searchsorted(readings.t_ns, readings.t_ns[a], side="right"))
            piece_end = int(readings.t_ns[b - 1])
            self._piece(readings.take(slice(a, b)), [n for n in notes if n.t_ns <= piece_end], piece_end)
            notes = [n for n in notes if n.t_ns > piece_end]
            a = b
        self._piece(readings.take(slice(a, None)), notes, upto_ns)

    def _piece(self, readings: Readings, notes: list[Mark | Trouble], upto_ns: int) -> None:
        if upto_ns <= self.upto_ns:
            return
        items: list[tuple[int, int, int, Track | None, Signal | Mark | Trouble]] = []
        items.extend((n.t_ns, 0, 0, None, n) for n in notes)
        rows = readings.by_channel()
        for channel, track in self.leads.items():
            signals = track.segment.take(rows.get(channel, NONE), upto_ns)
            items.extend((s.at_ns, 1, channel, track, s) for s in signals)
        items.sort(key=itemgetter(0, 1, 2))
        placer = self.placer
        for at, _, _, owner, what in items:
            placer.desk.run_timers(at)
            if owner is None:
                placer.note(what)  # type: ignore[arg-type]
            else:
                placer.signal(owner, what)  # type: ignore[arg-type]
        placer.desk.run_timers(upto_ns + 1)
        placer.desk.now_ns = max(placer.desk.now_ns, upto_ns)
        for channel, mine in rows.items():
            if channel not in self.leads and channel < len(self.channels):
                self.hazard.look_loose(self.channels[channel], mine, self.settings.warn_above)
        for track in self.leads.values():
            self.hazard.look(track, self.upto_ns, upto_ns, self.settings.warn_above)
        self.upto_ns = upto_ns


def _piece_length(channel: NDArray[np.int16]) -> int:
    """How many of the next readings the eyes may run ahead of the placer."""
    many = min(ROWS, len(channel))
    while many > OF_ONE and np.unique(channel[:many], return_counts=True)[1].max() > OF_ONE:
        many //= 2
    return many
