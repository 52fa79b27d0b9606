"""What holds between the points of a chart: names differ, feeds exist, the supply tree has no loops."""

from __future__ import annotations

from collections.abc import Iterable

from benchtui.model.units import Unit

from .point_file import Entry
from .table import Table, nearest


def check_names(tables: Iterable[Table], what: str) -> None:
    """Names that differ only by capitals or spaces are one name too: nobody could tell them apart."""
    first: dict[str, Table] = {}
    for table in tables:
        name = table.data.get("name")
        if not isinstance(name, str) or not name.strip():
            continue
        known = first.setdefault(" ".join(name.split()).casefold(), table)
        if known is not table:
            place = f" in line {known.line}" if known.line else ""
            table.problem("name", f"is the name of the {what}{place} already: give each its own name.")


def check_feeds(entries: list[Entry]) -> None:
    """Each fed_from names a point, nothing feeds itself, and DC does not feed AC."""
    by_name: dict[str, Entry] = {}
    for entry in entries:
        by_name.setdefault(entry.name, entry)
    for entry in entries:
        feed = entry.point.fed_from
        if feed is None:
            continue
        if feed not in by_name:
            hint = nearest(feed, [n for n in by_name if n])
            entry.table.problem("fed_from", f"names no point of this chart.{hint}")
        else:
            _check_kinds(entry, by_name[feed])
    _check_loops(by_name)


def _check_kinds(entry: Entry, feed: Entry) -> None:
    table, other = entry.table, feed.point
    if entry.point.unit is Unit.VAC and other.unit is Unit.V:
        table.problem(
            "fed_from", f"is a DC point, `{other.name}`, but this one is AC: one of the two is wrong."
        )
    if entry.span_unit is None or not other.unit.is_voltage or entry.span_unit is other.unit:
        return
    kind = (
        "AC: write strikes and holds in Vac" if other.unit is Unit.VAC else "DC: write strikes and holds in V"
    )
    table.problem("strikes", f"is not in the unit of its feed, `{other.name}`, which is {kind}.")


def _check_loops(by_name: dict[str, Entry]) -> None:
    """Each circle is told once, at the first of its points in the file."""
    order = {name: place for place, name in enumerate(by_name)}
    told: set[str] = set()
    for name in by_name:
        trail: dict[str, None] = {}
        step: str | None = name
        while step is not None and step in by_name and step not in told and step not in trail:
            trail[step] = None
            step = by_name[step].point.fed_from
        if step is not None and step in trail:
            way = list(trail)
            loop = way[way.index(step) :]
            first = loop.index(min(loop, key=order.__getitem__))
            _tell_loop(by_name, [*loop[first:], *loop[:first]])
        told.update(trail)


def _tell_loop(by_name: dict[str, Entry], loop: list[str]) -> None:
    way = [f"`{name}`" for name in [*loop[1:], loop[0]]]
    if len(way) > 6:
        way = [*way[:3], f"... ({len(way) - 5} more) ...", *way[-2:]]
    path = ", which is fed from ".join(way)
    by_name[loop[0]].table.problem("fed_from", f"goes round in a circle: `{loop[0]}` is fed from {path}.")
