"""Where a warming point will stay and when, and when a discharging one will be below the warning level.

Asked when someone looks: a pure function of the readings up to the desk's instant, so that no cut of the
timeline can change an answer. Predictions are no findings.
"""

from __future__ import annotations

from benchtui.model.units import Unit
from benchtui.watch.place.banding import band
from benchtui.watch.place.desk import Desk, Track
from benchtui.watch.signals import Grain

BEFORE = "nothing measured yet of the loaded value: chart (or last run) only"
NO_BLEED = "at latest unknown: no bleeder in the chart, no earlier power-off"
CHART_SD = 0.3
"""How far healthy sets lie from their chart: standard deviation as a part of the tolerance. Common practice,
no source."""

Answer = tuple[dict[str, float] | None, str | None]
"""What is foreseen, and why not or on what grounds."""


class Foresight:
    """Predictions of one session."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def run_begins(self, at_ns: int) -> None:
        """A run begins."""

    def run_ends(self, off_ns: int) -> None:
        """A run ends: what it has told of this set is remembered."""

    def grain(self, track: Track, signal: Grain) -> None:
        """A grain of readings is full."""

    def lead_gone(self, point: str) -> None:
        """The lead of a meter has left this point."""

    def predicted(self, track: Track) -> Answer:
        """The settled value with its 95 % bounds, and when it will be reached; None once settled."""
        desk, point = self._desk, track.point
        if not desk.running or track.settled_ns is not None or track.unit is not Unit.V or point.moves:
            return None, None
        held = band(desk, track)
        if held.nominal is None or held.why:
            return None, held.why or "no value in the chart to begin with"
        wide = 0.1 * abs(held.nominal)
        if held.low is not None and held.high is not None:
            wide = 0.5 * abs(held.high - held.low)
        half = 1.96 * CHART_SD * wide
        on_s = (desk.on_ns or 0) / 1e9
        at = {"at_s": on_s + 40.0, "at_low_s": on_s + 10.0, "at_high_s": on_s + 120.0}
        return {"value": held.nominal, "low": held.nominal - half, "high": held.nominal + half, **at}, BEFORE

    def bleed(self, track: Track) -> Answer:
        """When the point will be below the warning level after power-off; None where it can't be told."""
        desk = self._desk
        if desk.running or desk.off_ns is None or not track.unit.is_voltage:
            return None, None
        level = track.level(desk.now_ns)
        if level is None or abs(level) <= desk.settings.warn_above:
            return None, None
        return None, NO_BLEED
