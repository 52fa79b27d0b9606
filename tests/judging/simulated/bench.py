"""The meters of a case: 3 to 6 digits, 0.5 to 20 readings a second, each with its manner."""

from __future__ import annotations

from dataclasses import replace

from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit
from benchtui.sim.metermodel import MeterModel, autoranges
from benchtui.sim.receiver import POINTS

from .plot import Plot

MOST_READINGS = 17_000
_COUNTS = (2000, 4000, 6000, 20_000, 60_000, 200_000)


def meters_of(plot: Plot) -> tuple[MeterModel, ...]:
    """One meter on most points; all that the plot needs are there."""
    rng = plot.rng
    keep = [
        p for p in POINTS if p in plot.needs or p == "B+1" or rng.random() > (0.25 if p == "mains" else 0.15)
    ]
    pace = plot.even(0.5, 20.0) if not plot.slow else plot.even(0.5, 2.0)
    models = [_meter(plot, point, pace) for point in keep]
    total = sum(m.rate for m in models) * plot.seconds
    if total > MOST_READINGS:
        models = [replace(m, rate=max(0.5, m.rate * MOST_READINGS / total)) for m in models]
    return tuple(replace(m, **plot.meters.get(m.point, {})) for m in models)


def _meter(plot: Plot, point: str, pace: float) -> MeterModel:
    rng = plot.rng
    rate = min(20.0, max(0.5, pace * plot.even(0.5, 2.0)))
    if point == "pilot":
        return MeterModel(point, point, Unit.STATE, rate=max(1.0, rate), window_s=0.1)
    counts = int(rng.choice(_COUNTS))
    ac = point in ("mains", "heater")
    part = {2000: 0.01, 4000: 0.008, 6000: 0.005, 20_000: 0.001, 60_000: 0.0005, 200_000: 0.0002}[counts]
    ranges = autoranges(counts)
    if rng.random() < 0.4:
        ranges = (ranges[-1],) if point not in ("V6 cathode", "heater") else (ranges[1],)
    return MeterModel(
        point,
        point,
        Unit.VAC if ac else Unit.V,
        rate=rate,
        counts=counts,
        ranges=ranges,
        window_s=float(rng.choice([0.5, 0.9, 1.0])) / rate,
        input_ohms=float(rng.choice([10e6, 11e6, 5e6])),
        accuracy=Accuracy(part, 2),
        gain=part * plot.uniform(-0.6, 0.6),
        noise=plot.uniform(0.2, 1.0) * (4 if counts >= 60_000 else 1),
        jitter_s=float(rng.choice([0.0, 0.1, 0.3])) / rate,
        range_manner=str(rng.choice(["overload", "half", "skip"])),
        range_s=plot.uniform(0.2, 1.0),
    )
