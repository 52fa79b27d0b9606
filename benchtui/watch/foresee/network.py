"""How fast the resistors on the chart discharge its capacitors: the slowest time constant at a point.

With conductances G and capacitances C between the places of the chart and the chassis, v' = -C^-1 G v; what
is left in the end falls at the smallest eigenvalue (nodal analysis, as in any textbook of circuits).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.chart.chart import Chart
from benchtui.model.units import Unit
from benchtui.watch.place.desk import Desk

GROUNDS = ("chassis", "ground", "earth", "b-", "0 v")
STRAY = 1e-10
"""Farads of a place without a capacitor: too few to matter."""


@dataclass(frozen=True, slots=True)
class Bleeder:
    """What discharges a point once no valve conducts."""

    rate: float
    """Of ln v, a second."""
    by_meters_alone: bool
    """No resistor on the chart does it: only the meters' own."""


def bleeder_of(chart: Chart, point: str, meters: dict[str, float]) -> Bleeder | None:
    """The bleeder of a point as the chart shows it; None where it shows none.

    `meters`: ohms of the meters on points.
    """
    links = _links(chart)
    places = _joined(links, point)
    farads = dict.fromkeys(places, STRAY)
    for part in chart.parts:
        if part.kind == "capacitor" and part.value and part.joins is not None:
            ends = [_place(end) for end in part.joins]
            for one, other in (ends, ends[::-1]):
                if other == "" and one in farads:
                    farads[one] += part.value
    if max(farads.values()) < 1e-8:
        return None
    leaks = any("" in ends and (set(ends) & places) for ends, _ in links)
    if not leaks and not any(_place(name) in places for name in meters):
        return None
    rate = _slowest(links, places, farads, meters)
    return Bleeder(rate, not leaks) if rate > 0 else None


def bleeder_at(desk: Desk, point: str) -> Bleeder | None:
    """The bleeder of a point, or else of its nearest feed that has one, beside the meters on the set now."""
    meters = {
        t.name: t.segment.channel.input_resistance
        for t in desk.tracks.values()
        if t.unit is Unit.V and t.segment.channel.input_resistance
    }
    for name in (point, *desk.chart.feeds(point)):
        found = bleeder_of(desk.chart, name, meters)
        if found is not None:
            return found
    return None


def _place(name: str) -> str:
    """A place by its name; the empty string is the chassis."""
    return "" if name.strip().lower() in GROUNDS else name


def _links(chart: Chart) -> list[tuple[tuple[str, str], float]]:
    """Everything that conducts at rest: resistors, and what the chart says lies between point and feed."""
    found = [
        ((_place(part.joins[0]), _place(part.joins[1])), part.value)
        for part in chart.parts
        if part.kind == "resistor" and part.value and part.joins is not None
    ]
    shown = {frozenset(ends) for ends, _ in found}
    for p in chart.points:
        if p.fed_from is not None and p.through and frozenset((p.name, p.fed_from)) not in shown:
            found.append(((p.name, p.fed_from), p.through))
    return found


def _joined(links: list[tuple[tuple[str, str], float]], point: str) -> set[str]:
    """All places that resistors join to this one, the chassis aside."""
    places, grown = {point}, True
    while grown:
        more = {end for ends, _ in links if places & set(ends) for end in ends if end} - places
        grown = bool(more)
        places |= more
    return places


def _slowest(
    links: list[tuple[tuple[str, str], float]], places: set[str], farads: dict[str, float],
    meters: dict[str, float],
) -> float:  # fmt: skip
    order = sorted(places)
    row = {place: i for i, place in enumerate(order)}
    g = np.zeros((len(order), len(order)))
    ends_of = [*links, *(((_place(name), ""), ohms) for name, ohms in meters.items() if ohms > 0)]
    for (one, other), ohms in ends_of:
        for here, there in ((one, other), (other, one)):
            if here in row:
                g[row[here], row[here]] += 1.0 / ohms
                if there in row:
                    g[row[here], row[there]] -= 1.0 / ohms
    root = np.array([farads[place] for place in order]) ** -0.5
    values = np.linalg.eigvalsh(root[:, None] * g * root[None, :])
    return float(max(values[0], 0.0))
