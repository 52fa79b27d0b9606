"""The chart of a case, as a person would write it: rounded, true of a sound set, not always complete."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from .blueprint import HEATERS, MAINS, Blueprint, Spot
from .circuit import Circuit
from .families import Printed
from .plan import Plan

SURGE_S = 90.0
Heights = tuple[dict[str, float], dict[str, float]]
NAMES = ("Causeway Eight", "Harbour Twin", "Lantern Five", "Estuary Four", "Slipway Stabiliser")


@dataclass(slots=True)
class Sheet:
    """The chart's text, and what it says in numbers."""

    text: str = ""
    nominal: dict[str, float] = field(default_factory=dict)
    band: dict[str, tuple[float, float]] = field(default_factory=dict)
    feeds: dict[str, str] = field(default_factory=dict)
    limit: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    """Working rating, surge, seconds of surge."""
    bleed_s: dict[str, float] = field(default_factory=dict)
    follows: dict[str, bool] = field(default_factory=dict)


def written(
    bp: Blueprint, family: int, measured: list[Spot], printed: Printed, highest: dict[str, float],
    steady: dict[str, float], bleeds: dict[str, float], plan: Plan, rng: np.random.Generator,
) -> Sheet:  # fmt: skip
    """The chart; `highest`, `steady`: the greatest sizes of the sound set here, and after a surge's time.

    No rating may forbid them.
    """
    sheet = Sheet()
    names = {s.name for s in measured}
    kept = [s for s in bp.spots if s.name in names or (s.unit == "V" and rng.random() < 0.55)]
    standard = rng.random() < 0.4
    lines = ["[set]", f'name = "{NAMES[family]}"']
    lines += [f'mains = "{bp.mains:g} V"'] if rng.random() < 0.85 else []
    lines += ['tolerance = "15 %"'] if standard else []
    lines += [line for line in bp.lines if rng.random() < 0.85]
    for spot in kept:
        lines += ["", *_point(sheet, spot, kept, bp, printed, (highest, steady), standard, rng)]
        if bleeds.get(spot.name) is not None and spot.bleeds:
            sheet.bleed_s[spot.name] = bleeds[spot.name]
            lines.append(f'bleed = "{bleeds[spot.name]:g} s"')
        if spot.programme or (plan.fading is not None and spot.name == "screens"):
            lines.append('moves = "programme"')
    sheet.text = "\n".join(lines) + "\n"
    return sheet


def _feed(spot: Spot, kept: list[Spot], bp: Blueprint) -> tuple[str | None, bool]:
    """The nearest point of the chart that feeds this one, and whether it is the next in the circuit."""
    by_name = {s.name: s for s in bp.spots}
    feed, nearest = spot.fed_from, True
    while feed is not None and feed not in {s.name for s in kept}:
        feed, nearest = by_name[feed].fed_from, False
    return feed, nearest


def _point(
    sheet: Sheet, spot: Spot, kept: list[Spot], bp: Blueprint, printed: Printed,
    heights: Heights, standard: bool, rng: np.random.Generator,
) -> list[str]:  # fmt: skip
    if spot.unit == "state":
        lines = ["[[glow]]", f'name = "{spot.name}"', 'nominal = "lit"', "seen = true"]
    else:
        lines = ["[[glow]]" if spot.tube else "[[point]]", f'name = "{spot.name}"']
    if spot.tube:
        lines += _glow(spot, bp.circuit)
    if spot.where and rng.random() < 0.7:
        lines.append(f'where = "{spot.where}"')
    if bp.reference and spot.unit == "V":
        lines.append(f'reference = "{bp.reference}"')
    feed, nearest = _feed(spot, kept, bp)
    if feed is not None and rng.random() < 0.9:
        sheet.feeds[spot.name] = feed
        lines.append(f'fed_from = "{feed}"')
        if nearest and spot.through and rng.random() < 0.8:
            ohms = bp.circuit.branch(spot.through).value
            lines.append(f'through = "{ohms:g} ohm"')
    if spot.unit != "state":
        lines += _levels(sheet, spot, printed, heights, standard, rng)
    sheet.follows[spot.name] = spot.tube is None
    return lines


def _levels(
    sheet: Sheet, spot: Spot, printed: Printed, heights: Heights, standard: bool,
    rng: np.random.Generator,
) -> list[str]:  # fmt: skip
    unit, true = spot.unit, printed.settled[spot.name]
    if spot.node == MAINS:
        return ['nominal = "230 Vac"', 'tolerance = "10 %"']
    if spot.programme:
        return [f'low = "{_short(2.2 * true)} V"', f'high = "{_short(0.2 * true)} V"']
    if not spot.band:
        sheet.band[spot.name] = (-0.5, 0.5)
        return ['nominal = "0 V"', 'low = "-0.5 V"', 'high = "0.5 V"']
    nominal = float(_short(true))
    sheet.nominal[spot.name] = nominal
    lines = [f'nominal = "{nominal:g} {unit}"']
    off = 100 * abs(printed.bench[spot.name] / nominal - 1) + 5
    band = max(spot.band if spot.node != HEATERS else 8, math.ceil(off))
    if rng.random() < 0.12 and off < 15:
        if standard:
            sheet.band[spot.name] = _band(nominal, 15, 15)
    elif rng.random() < 0.2:
        low, high = _band(nominal, band, band)
        low, high = float(f"{low:.3g}"), float(f"{high:.3g}")
        sheet.band[spot.name] = (low, high)
        lines += [f'low = "{low:g} {unit}"', f'high = "{high:g} {unit}"']
    else:
        down = band + int(rng.integers(0, 6))
        sheet.band[spot.name] = _band(nominal, down, band)
        lines.append(f'tolerance = "+{band} % -{down} %"')
    if unit == "V" and abs(nominal) > 60 and rng.random() < 0.45:
        lines += _limit(sheet, spot, nominal, printed.peak[spot.name], heights, rng)
    return lines


def _limit(
    sheet: Sheet, spot: Spot, nominal: float, peak: float, heights: Heights, rng: np.random.Generator
) -> list[str]:
    """A rating above what a sound set ever reaches; or a lower one, with a surge for the start."""
    edge = max(abs(x) for x in sheet.band.get(spot.name, (nominal, 1.1 * nominal)))
    most = 1.03 * max(peak, heights[0][spot.name])
    if most > 1.3 * edge and rng.random() < 0.6:
        surge = math.ceil(most / 10) * 10.0
        limit = math.ceil(max(1.12 * edge, 1.2 * abs(nominal), 1.03 * heights[1][spot.name]) / 10) * 10.0
        surge = max(surge, limit)
        sheet.limit[spot.name] = (limit, surge, SURGE_S)
        return [f'limit = "{limit:g} V"', f'surge = "{surge:g} V for {SURGE_S:g} s"']
    limit = math.ceil(max(most, 1.02 * edge) / 10) * 10.0
    sheet.limit[spot.name] = (limit, limit, 0.0)
    return [f'limit = "{limit:g} V"']


def _band(nominal: float, down: float, up: float) -> tuple[float, float]:
    one, other = nominal * (1 - down / 100), nominal * (1 + up / 100)
    return min(one, other), max(one, other)


def _glow(spot: Spot, circuit: Circuit) -> list[str]:
    tube = next(t for t in circuit.tubes if t.name == spot.tube)
    strikes, holds = tube.strikes, tube.holds
    lines = [f'strikes = "{strikes * 0.9:.0f} V .. {strikes * 1.1:.0f} V"']
    if spot.unit == "state":
        return [*lines, f'holds = "{holds * 0.85:.0f} V .. {holds * 1.08:.0f} V"']
    return [*lines, 'current = "5 mA .. 40 mA"']


def _short(value: float) -> str:
    """A value as charts print it."""
    digits = 3 if abs(value) >= 100 else 2
    return f"{float(f'{value:.{digits}g}'):g}"
