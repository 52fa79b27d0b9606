"""What a simulated meter is, and what befalls it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit

from .receiver import POINTS

While = tuple[float, float]
"""From and to, in seconds."""


@dataclass(frozen=True, slots=True)
class MeterModel:
    """One meter on one point. Volts, ohms, seconds."""

    name: str
    point: str
    """One of receiver.POINTS."""
    unit: Unit = Unit.V
    rate: float = 2.0
    """Readings a second."""
    counts: int = 6000
    """The display goes to this many counts in each range."""
    ranges: tuple[float, ...] = (6.0, 60.0, 600.0)
    """Full scales, rising; one alone is a fixed range."""
    window_s: float | None = None
    """Averaging window; None: the whole time from one reading to the next."""
    input_ohms: float = 10e6
    accuracy: Accuracy = field(default_factory=lambda: Accuracy(0.005, 2))
    gain: float = 0.0
    """Its own error, as a part of the reading; inside the stated accuracy."""
    noise: float = 0.4
    """Standard deviation in counts of the last digit."""
    jitter_s: float = 0.0
    """Irregularity of the rate: each reading comes late by up to this."""
    range_manner: str = "overload"
    """What a range change upwards shows: overload, half (then a half-settled reading) or skip."""
    range_s: float = 0.6
    """How long a range change takes; no readings in that time."""
    says_unit: bool = True
    """False where the wire carries a bare number: then AC passes for DC."""
    sleeps: tuple[While, ...] = ()
    """Times in which it sends nothing."""
    held: tuple[While, ...] = ()
    """Times in which it repeats one reading and does not say so."""
    lead_off: tuple[While, ...] = ()
    """Times in which its lead has fallen off."""
    reversed: tuple[While, ...] = ()
    """Times in which its leads are the wrong way round."""
    wrong: tuple[While, ...] = ()
    """Times in which it stands on AC for DC, or on DC for AC."""
    slips: tuple[float, ...] = ()
    """Moments at which one reading comes ten times too large: a slipped decimal point."""

    @property
    def averages_s(self) -> float:
        """The averaging window in seconds."""
        return self.window_s if self.window_s is not None else 1.0 / self.rate

    @property
    def siemens(self) -> float:
        """What it puts on its point; a mains socket and a heater winding do not feel it, nor does a lamp."""
        return 1.0 / self.input_ohms if self.unit is Unit.V else 0.0

    def decimals(self, scale: float) -> int:
        """Places after the decimal point in the range of this full scale."""
        return math.floor(math.log10(self.counts / scale) + 1e-9)


def autoranges(counts: int) -> tuple[float, ...]:
    """Full scales of an autoranging meter of so many counts: 6, 60, 600, 1000 V for 6000."""
    lead = counts / 10 ** math.floor(math.log10(counts))
    scales = [lead, lead * 10, lead * 100]
    return tuple([*scales, 1000.0] if scales[-1] < 1000 else scales)


def bench_of(
    rate: float = 2.0, counts: int = 6000, points: tuple[str, ...] = POINTS
) -> tuple[MeterModel, ...]:
    """One meter on each of these points, all alike; the pilot's is a light sensor."""
    made = []
    for point in points:
        if point == "pilot":
            made.append(MeterModel("pilot", point, Unit.STATE, rate=rate, window_s=0.1))
            continue
        unit = Unit.VAC if point in ("mains", "heater") else Unit.V
        made.append(MeterModel(point, point, unit, rate=rate, counts=counts, ranges=autoranges(counts)))
    return tuple(made)
