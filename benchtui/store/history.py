"""What the strip charts need, in memory: the last minutes whole, least and greatest values of the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from benchtui.model.block import Block
from benchtui.model.course import Course
from benchtui.model.notes import Lead
from benchtui.model.readings import Bools, Channel, Readings
from benchtui.model.units import Unit

from .track import Track


class History:
    """The courses of all points, fed block by block. Leads that move are followed; points are never mixed."""

    def __init__(self, channels: Sequence[Channel], units: Mapping[str, Unit] | None = None) -> None:
        """`units`: what each point is; readings of another unit are no readings of it."""
        self._eyes = frozenset(number for number, channel in enumerate(channels) if channel.eye)
        self._units = dict(units or {})
        self._on: dict[int, str] = {}
        self._tracks: dict[str, Track] = {}
        self._upto_ns = 0

    def add(self, block: Block) -> None:
        """The next block of the timeline."""
        readings = block.readings
        start = 0
        for note in block.notes:
            if not isinstance(note, Lead):
                continue
            end = int(np.searchsorted(readings.t_ns, note.t_ns, side="left"))
            self._take(readings.take(slice(start, end)))
            start = end
            self._move(note)
        self._take(readings.take(slice(start, None)) if start else readings)
        self._upto_ns = max(self._upto_ns, block.upto_ns)

    def course(self, point: str, start_ns: int, end_ns: int, columns: int) -> Course:
        """Least and greatest value of the point in each of `columns` equal stretches of time."""
        track = self._tracks.get(point)
        unit = self._units.get(point, Unit.UNKNOWN if track is None else track.unit)
        columns = max(1, columns)
        steps = max(columns, end_ns - start_ns)
        edges = start_ns + np.arange(columns + 1, dtype=np.int64) * steps // columns
        if track is None:
            nothing = np.full(columns, np.nan)
            return Course(start_ns, end_ns, nothing, nothing.copy(), np.zeros(columns, dtype=np.bool_), unit)
        low, high = track.extremes(edges)
        gap = np.isnan(low) & self._silent(track, edges)
        return Course(start_ns, end_ns, low, high, gap, unit)

    def _take(self, readings: Readings) -> None:
        if not len(readings):
            return
        for point in dict.fromkeys(self._on.values()):
            channels = [number for number, on in self._on.items() if on == point]
            rows = readings.take(np.isin(readings.channel, channels))
            if not len(rows):
                continue
            track = self._tracks.get(point)
            if track is None:
                unit = self._units.get(point, Unit(int(rows.unit[0])))
                track = self._tracks[point] = Track(unit, seen=self._eyes.issuperset(channels))
            track.add(rows)

    def _move(self, lead: Lead) -> None:
        before = self._on.pop(lead.channel, None)
        if lead.point is not None:
            self._on[lead.channel] = lead.point
        for point in (before, lead.point):
            if point in self._tracks:
                self._tracks[point].lead_moved(on=point in self._on.values())

    def _silent(self, track: Track, edges: np.ndarray) -> Bools:
        silent = np.zeros(len(edges) - 1, dtype=np.bool_)
        for from_ns, to_ns in track.silences(int(edges[0]), int(edges[-1]), self._upto_ns):
            silent |= (edges[1:] > from_ns) & (edges[:-1] < to_ns)
        return silent
