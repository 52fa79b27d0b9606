"""From the text of a chart file to a checked chart, or to every problem in it at once."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from benchtui.model.units import Unit

from .chart import Chart, MeterLoad
from .extras_file import read_derived, read_part
from .phrases import Tolerance, parse_load, parse_tolerance
from .point_file import NAME_MOST, Entry, read_point
from .problems import Problems
from .quantity import Quantity, QuantityError, parse_quantity, quoted
from .supply import check_feeds, check_names
from .table import Table
from .toml_text import load


@dataclass(frozen=True, slots=True)
class _Set:
    """What [set] says."""

    name: str = ""
    mains: Decimal | None = None
    meter: MeterLoad | None = None
    rectifier: str = ""
    filter: str = ""
    chassis: str = ""
    tolerance: Tolerance | None = None


def read_chart(text: str, file: str) -> Chart:
    """The chart in this text; `file` is how problems name it.

    Raises:
        ChartError: with every problem of the file, in the order of its lines.
    """
    data = load(text, file)
    problems = Problems(file, text)
    top = Table(data, (), problems)
    about = _read_set(top)
    entries = _read_points(top, about)
    parts = [(t, read_part(t)) for t in top.each("part")]
    derived_tables = top.each("derived")
    points = {e.point.name: e.point for e in reversed(entries) if e.point.name}
    derived = [read_derived(t, points) for t in derived_tables]
    top.refuse_rest()
    check_names([*(e.table for e in entries), *derived_tables], "point")
    check_names((t for t, _ in parts), "part")
    check_feeds(entries)
    problems.raise_if_any()
    return Chart(
        name=about.name,
        mains=None if about.mains is None else float(about.mains),
        meter=about.meter,
        rectifier=about.rectifier,
        filter=about.filter,
        chassis=about.chassis,
        points=tuple(e.point for e in entries),
        parts=tuple(part for _, part in parts),
        derived=tuple(derived),
        text=text,
    )


def _read_set(top: Table) -> _Set:
    table = top.inner("set", 'a heading [set] with name = "Saltmarsh Six" below it')
    if table is None:
        if top.lacks("set"):
            top.problem("set", 'is missing: begin with [set] and name = "Saltmarsh Six" on the next line.')
        return _Set()
    found = _Set(
        name=table.text("name", "Saltmarsh Six", needed=True, most=NAME_MOST) or "",
        mains=table.written("mains", _mains, "230 V"),
        meter=table.written("meter", parse_load, "20 kohm/V"),
        rectifier=table.choice("rectifier", ["solid", "direct", "indirect"]) or "",
        filter=table.choice("filter", ["capacitor", "choke"]) or "",
        chassis=table.choice("chassis", ["isolated", "live"]) or "",
        tolerance=table.written("tolerance", parse_tolerance, "10 %"),
    )
    table.refuse_rest()
    return found


def _mains(text: str) -> Decimal:
    """The mains is AC whether a chart writes `230 V` or `230 Vac`."""
    found: Quantity = parse_quantity(text, Unit.VAC, Unit.V)
    if found.coupling == "dc":
        raise QuantityError(
            f"{quoted(text)}: a chart's mains is AC, like `230 V`; leave it out for a DC supply."
        )
    if found.value <= 0:
        raise QuantityError(f"{quoted(text)} must be more than 0, like `230 V`.")
    return found.value


def _read_points(top: Table, about: _Set) -> list[Entry]:
    """All points and glows, in the order of the file."""
    tables = [(t, False) for t in top.each("point")] + [(t, True) for t in top.each("glow")]
    if not tables and top.lacks("point") and top.lacks("glow"):
        top.problem("point", "is missing: a chart has at least one [[point]].")
    tables.sort(key=lambda pair: pair[0].line or 0)
    return [read_point(t, glow, about.tolerance, about.mains) for t, glow in tables]
