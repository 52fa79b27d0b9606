"""The vertical scale of a strip chart: linear from 0 to the rating, or the needle's scale unrolled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from benchtui.model.course import Course
from benchtui.model.readings import Floats
from benchtui.model.units import Unit
from benchtui.watch.board import Row

from .. import format as fmt
from .scale import Scale, scale
from .window import Window

EXCESS = 0.02
"""The part of its scale by which a course may pass its end before the scale grows."""


@dataclass(frozen=True, slots=True)
class Strip:
    """Everything that one chart shows."""

    row: Row
    course: Course | None
    """Two columns a cell over the window; None: nothing is known."""
    shown: Window
    unrolled: bool
    """The needle's scale unrolled in time; else linear from 0 to the rating."""
    far: bool = False
    """Few words."""
    held: bool = False
    """It stands still although time goes on."""


@dataclass(frozen=True, slots=True)
class Heights:
    """Values to dots from the top, and the rows of the labels."""

    dots: Callable[[Floats], Floats]
    band: tuple[int, int] | None
    """First and last row of the band."""
    nominal: int | None
    labels: tuple[tuple[int, str], ...]


def heights_of(strip: Strip, rows: int, room: int = 5) -> Heights:
    """The vertical scale of a chart of so many rows, its labels in `room` cells."""
    found = scale(strip.row, rows)
    state = strip.row.unit is Unit.STATE
    if found is not None and (strip.unrolled or state):
        return _unrolled(strip, found, rows, room)
    return _linear(strip, found, rows, room)


def _read(strip: Strip) -> tuple[float, float] | None:
    """Least and greatest value of the course; None where it holds none."""
    if strip.course is None:
        return None
    low = strip.course.low[np.isfinite(strip.course.low)]
    high = strip.course.high[np.isfinite(strip.course.high)]
    return (float(low.min()), float(high.max())) if len(low) and len(high) else None


def _unrolled(strip: Strip, found: Scale, rows: int, room: int) -> Heights:
    """The needle's scale; its ends make room for whatever was read beyond them."""
    row, read = strip.row, _read(strip)
    values = np.array([a[0] for a in found.anchors])
    places = np.array([a[1] for a in found.anchors])
    if read is not None and row.unit is not Unit.STATE:
        slack = EXCESS * (values[-1] - values[0])
        values[0] = read[0] if read[0] < values[0] - slack else values[0]
        values[-1] = read[1] if read[1] > values[-1] + slack else values[-1]
    ends = float(values[0]), float(values[-1])

    def row_at(value: float) -> int:
        at = rows - 1 - int(np.interp(value, values, places))
        return min(max(at, 0), rows - 1)

    def dots(of: Floats) -> Floats:
        return np.asarray((rows - np.interp(of, values, places)) * 4 - 0.5, dtype=np.float64)

    first, last = rows - found.right, rows - found.left - 1
    middle = rows - 1 - found.middle
    if row.unit is Unit.STATE:
        right, wrong = ("lit", "out") if (row.nominal or 0) >= 0.5 else ("out", "lit")
        return Heights(dots, (first, last), middle, ((middle, right), (rows - 1, wrong)))
    wanted = [(first, row.high), (middle, row.nominal), (last, row.low)]
    if row.limit is not None and ends[0] <= row.limit <= ends[1]:
        wanted.append((row_at(row.limit - 1e-9 * abs(row.limit)), row.limit))
    for at, end, known in ((0, ends[1], found.anchors[-1][0]), (rows - 1, ends[0], found.anchors[0][0])):
        if end == 0 or end != known:
            wanted.append((at, end))
    return Heights(dots, (first, last), middle if found.plumb else None, _labels(row, wanted, room))


def _linear(strip: Strip, found: Scale | None, rows: int, room: int) -> Heights:
    row = strip.row
    least, most = _range(strip, found)
    last = 4 * rows - 1

    def dots(of: Floats) -> Floats:
        return np.asarray(last * (1 - (of - least) / (most - least)), dtype=np.float64)

    def at(value: float) -> int:
        return min(max(int(last * (1 - (value - least) / (most - least))), 0), last) // 4

    band = None
    if row.low is not None and row.high is not None:
        band = at(row.high), at(row.low)
    nominal = None if row.nominal is None else at(row.nominal)
    known = (row.nominal, row.high, row.low, row.limit)
    wanted: list[tuple[int, float | None]] = [
        (at(v), v) for v in known if v is not None and least <= v <= most
    ]
    return Heights(dots, band, nominal, _labels(row, [*wanted, (0, most), (rows - 1, least)], room))


def _range(strip: Strip, found: Scale | None) -> tuple[float, float]:
    """Least and greatest value of a linear chart: from 0 to the rating, or to what was read."""
    values = [0.0]
    if found is not None:
        values += [found.anchors[0][0], found.anchors[-1][0]]
    elif strip.row.limit:
        values.append(strip.row.limit)
    slack = EXCESS * (max(values) - min(values))
    values += [v for v in _read(strip) or () if not min(values) - slack <= v <= max(values) + slack]
    least, most = min(values), max(values)
    return (least, most) if most - least > 1e-12 else (least, least + 1.0)


def _labels(row: Row, wanted: list[tuple[int, float | None]], room: int) -> tuple[tuple[int, str], ...]:
    """The first wanted of each row of the chart."""
    size = max((abs(v) for _, v in wanted if v is not None), default=1.0)
    taken: dict[int, str] = {}
    for at, value in wanted:
        if value is not None and at not in taken:
            taken[at] = fmt.label(row, value, size, room)
    return tuple(sorted(taken.items()))
