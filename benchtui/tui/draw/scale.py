"""The scale that all needles and settled charts share: 0, the band, the rating, each at its place.

Width w, sides w // 4, the band between made odd so that nominal is the middle of a cell. Piecewise linear.
"""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.model.units import Unit
from benchtui.watch.board import Row

from ..format import finite

LEAST = 1e-15
"""SI units: a scale narrower than this is none."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Values to positions from 0 to `width`; the band takes the cells from `left` up to `right`."""

    width: int
    left: int
    right: int
    anchors: tuple[tuple[float, float], ...]
    """(value, position), rising in value."""
    plumb: bool
    """The chart gives a nominal value."""

    @property
    def middle(self) -> int:
        """The cell of the plumb line."""
        return (self.left + self.right) // 2

    def at(self, value: float) -> float:
        """Position of a value; beyond the ends it goes on straight."""
        anchors = self.anchors
        i = 1
        while i < len(anchors) - 1 and value > anchors[i][0]:
            i += 1
        (v0, p0), (v1, p1) = anchors[i - 1], anchors[i]
        return p0 + (value - v0) / (v1 - v0) * (p1 - p0)


def band_cells(width: int) -> tuple[int, int]:
    """First cell of the band, and the one after its last."""
    side = width // 4
    band = width - 2 * side
    return side, side + band - (1 - band % 2)


def scale(row: Row, width: int) -> Scale | None:
    """The needle's scale for a point; None where the chart gives nothing to hang it on."""
    left, right = band_cells(width)
    middle = (left + right) / 2
    if row.unit is Unit.STATE:
        if row.nominal is None:
            return None
        ends = (0.0, middle) if row.nominal >= 0.5 else (middle, 0.0)
        return Scale(width, left, right, ((0.0, ends[0]), (1.0, ends[1])), True)
    bounds = _band(row)
    if bounds is None:
        return None
    low, high = bounds
    nominal = row.nominal if row.nominal is not None and low < row.nominal < high else (low + high) / 2
    first, last = _ends(row, low, nominal, high)
    anchors = [
        (first, 0.0),
        (low, float(left)),
        (nominal, middle),
        (high, float(right)),
        (last, float(width)),
    ]
    return (
        Scale(width, left, right, _rising(anchors), row.nominal is not None) if last - first > LEAST else None
    )


def _rising(anchors: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """The anchors without those that stand on the one before; of two the band's edge stays."""
    apart = 1e-9 * (anchors[-1][0] - anchors[0][0])
    kept = [anchors[0]]
    for value, position in anchors[1:]:
        if value - kept[-1][0] > apart:
            kept.append((value, position))
        elif len(kept) == 1:
            kept[0] = (kept[0][0], position)
    return tuple(kept)


def _band(row: Row) -> tuple[float, float] | None:
    low, high, limit = finite(row.low), finite(row.high), finite(row.limit)
    if low is not None and high is not None:
        return (low, high) if low < high else None
    if high is not None:
        return (min(0.0, high - abs(high)), high) if high else (-1.0, 0.0)
    if low is not None:
        most = limit if limit is not None and limit > low else low + abs(low)
        return (low, most) if most > low else (low, low + 1.0)
    return None


def _ends(row: Row, low: float, nominal: float, high: float) -> tuple[float, float]:
    """Values at the two ends: 0 and the rating; without one, twice the way from nominal to the bound."""
    limit = abs(row.limit) if finite(row.limit) is not None and row.limit else None
    above = limit if limit is not None and limit > high else high + 2 * (high - nominal)
    under = -limit if limit is not None and -limit < low else low - 2 * (nominal - low)
    if low >= 0:
        return 0.0, above
    if high <= 0:
        return under, 0.0
    return under, above
