"""One [[point]] or [[glow]] of a chart file, as a record."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from benchtui.model.units import Unit

from .chart import Glow, Point, Span
from .levels import read_levels
from .phrases import Tolerance, parse_span
from .quantity import Quantity, QuantityError, parse_quantity, write_quantity
from .ratings import check_ratings, work_out_band
from .table import Table

NAME_MOST = 60
"""Characters in a name, at most."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A point with the table that it was read from."""

    table: Table
    point: Point
    name: str
    """As written, good or not; empty where there is none."""
    span_unit: Unit | None = None
    """A glow's: whether its spans are DC or AC."""


def read_point(table: Table, glow: bool, standard: Tolerance | None, mains: Decimal | None) -> Entry:
    """The point as far as it can be read; problems are told to the table."""
    name = table.text("name", "pilot" if glow else "B+1", needed=True, most=NAME_MOST) or ""
    is_mains = not glow and name.casefold() == "mains"
    levels = read_levels(table, mains if is_mains else None, glow, seen=table.data.get("seen") is True)
    if levels.unit is not Unit.STATE:
        work_out_band(table, levels, standard)
        check_ratings(table, levels)
    unit = levels.unit or Unit.UNKNOWN
    spans, span_unit, current = _glow(table, unit) if glow else (None, None, _current(table, unit))
    follows, seen = table.flag("follows_mains"), table.flag("seen")
    if seen and unit not in (Unit.STATE, Unit.UNKNOWN):
        table.problem(
            "seen", 'is true, but the eye reads no volts: write nominal = "lit", or leave seen out.'
        )
    point = Point(
        name=name,
        unit=unit,
        where=table.text("where") or "",
        reference=table.text("reference", most=NAME_MOST) or "chassis",
        conditions=table.text("conditions") or "",
        nominal=_number(levels.nominal),
        low=_number(levels.low),
        high=_number(levels.high),
        limit=_number(levels.limit),
        surge=_number(levels.surge),
        surge_s=levels.surge_s,
        ripple=_only(table, "ripple", unit, Unit.VAC, like="8 Vac"),
        range=_range(table, unit),
        follows_mains=(not glow) if follows is None else follows,
        moves=table.choice("moves", ["programme"]) or "",
        fed_from=table.text("fed_from", "B+1", most=NAME_MOST),
        through=_through(table),
        current=current,
        source_resistance=positive(table, "source_resistance", Unit.OHM, like="15 kohm"),
        bleed_s=_only(table, "bleed", unit, Unit.SECOND, like="60 s"),
        glow=spans,
        seen=unit is Unit.STATE if seen is None else seen,
        line=table.line,
    )
    table.refuse_rest()
    return Entry(table, point, str(table.data.get("name", "")), span_unit)


def positive(table: Table, key: str, *units: Unit, like: str) -> float | None:
    """A quantity of more than 0, in SI units; None where it is not written or wrong."""

    def parse(text: str) -> Quantity:
        found = parse_quantity(text, *units)
        if found.value <= 0:
            raise QuantityError(f"must be more than 0, like `{like}`; leave it out where it is not known.")
        return found

    found = table.written(key, parse, like)
    return None if found is None else found.number


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _only(table: Table, key: str, of: Unit, unit: Unit, like: str) -> float | None:
    """A quantity that has a meaning only on points in DC volts."""
    value = positive(table, key, unit, like=like)
    if value is not None and of not in (Unit.V, Unit.UNKNOWN, Unit.STATE):
        table.problem(key, "has a meaning only for a point in DC volts: leave it out.")
    return value


def _range(table: Table, unit: Unit) -> float | None:
    if unit.is_voltage:
        return positive(table, "range", unit, like="500 V" if unit is Unit.V else "25 Vac")
    value = positive(table, "range", Unit.V, Unit.VAC, like="500 V")
    if value is not None and unit not in (Unit.UNKNOWN, Unit.STATE):
        table.problem("range", "has a meaning only for a point in volts: leave it out.")
    return value


def _through(table: Table) -> float | None:
    value = positive(table, "through", Unit.OHM, like="2.2 kohm")
    if table.has("through") and table.lacks("fed_from"):
        table.problem("through", 'needs fed_from beside it: what is it fed from, like fed_from = "B+1"?')
    return value


def _current(table: Table, unit: Unit) -> float | None:
    kind = Unit.AAC if unit is Unit.VAC else Unit.A
    if unit is Unit.UNKNOWN:
        return positive(table, "current", Unit.A, Unit.AAC, like="20 mA")
    return positive(table, "current", kind, like="0.3 Aac" if kind is Unit.AAC else "20 mA")


def _glow(table: Table, unit: Unit) -> tuple[Glow | None, Unit | None, float | None]:
    """The needs of a lamp or regulator, the unit of its spans, and what else it draws."""
    span = current = None
    if isinstance(written := table.data.get("current"), str) and not _single(written):
        span = table.written("current", lambda text: _positive_span(text, Unit.A), "5 mA .. 30 mA")
    else:
        current = _current(table, unit)
    strikes = _needs(table, "strikes", "65 V .. 90 V", wanted=True)
    holds = _needs(table, "holds", "50 V .. 65 V", wanted=not table.has("current"))
    if strikes is None:
        return None, None, current
    if holds is not None:
        _check_holds(table, strikes, holds)
    kept = Span(0.0, strikes[1].number) if holds is None else Span(holds[0].number, holds[1].number)
    amps = None if span is None else Span(span[0].number, span[1].number)
    found = Glow(Span(strikes[0].number, strikes[1].number), kept, amps)
    return found, strikes[0].unit, current


def _single(text: str) -> bool:
    """True where this is one current, not a range (or is neither: then a range is asked for)."""
    try:
        parse_quantity(text, Unit.A)
    except QuantityError:
        return False
    return True


def _positive_span(text: str, *units: Unit) -> tuple[Quantity, Quantity]:
    low, high = parse_span(text, *units)
    if low.value <= 0:
        raise QuantityError("must be more than 0 on both ends.")
    return low, high


def _needs(table: Table, key: str, like: str, wanted: bool) -> tuple[Quantity, Quantity] | None:
    if wanted and table.lacks(key):
        table.problem(key, f'is missing: write it like {key} = "{like}".')
    return table.written(key, lambda text: _positive_span(text, Unit.V, Unit.VAC), like)


def _check_holds(table: Table, strikes: tuple[Quantity, Quantity], holds: tuple[Quantity, Quantity]) -> None:
    if strikes[0].unit is not holds[0].unit:
        table.problem("holds", "is in another unit than strikes: V is DC, Vac is AC; use one for both.")
    elif holds[0].value > strikes[0].value or holds[1].value > strikes[1].value:
        low, high = (write_quantity(q.value, q.unit) for q in strikes)
        table.problem(
            "holds", f"lies above strikes, {low} .. {high}: it goes on glowing at less than it strikes at."
        )
