"""The [[part]] and [[derived]] tables of a chart file, as records."""

from __future__ import annotations

import re

from benchtui.model.units import Unit

from .chart import Derived, Part, Point, Span
from .dimension import PLAIN, in_words
from .formula import Formula
from .formula_text import parse_formula, unit_constant, wrong_writing
from .marking import part_value
from .phrases import Tolerance, parse_tolerance
from .point_file import NAME_MOST
from .quantity import EXAMPLE, QuantityError, parse_quantity
from .table import Table, nearest

KINDS: dict[str, Unit] = {
    "resistor": Unit.OHM,
    "potentiometer": Unit.OHM,
    "capacitor": Unit.FARAD,
    "electrolytic": Unit.FARAD,
    "choke": Unit.HENRY,
    "coil": Unit.HENRY,
    "fuse": Unit.A,
    "transformer": Unit.UNKNOWN,
    "valve": Unit.UNKNOWN,
    "rectifier": Unit.UNKNOWN,
    "lamp": Unit.UNKNOWN,
    "switch": Unit.UNKNOWN,
    "socket": Unit.UNKNOWN,
    "joint": Unit.UNKNOWN,
    "other": Unit.UNKNOWN,
}
"""Kinds of parts, with the unit of their value; UNKNOWN for parts that have none."""


def read_part(table: Table) -> Part:
    """The part as far as it can be read; problems are told to the table."""
    name = table.text("name", "R33", needed=True, most=NAME_MOST) or ""
    if table.lacks("kind"):
        table.problem("kind", 'is missing: write it like kind = "resistor".')
    kind = table.choice("kind", KINDS) or ""
    unit = KINDS.get(kind, Unit.UNKNOWN)
    value, marked = _value(table, kind, unit)
    tolerance = table.written("tolerance", parse_tolerance, "10 %") or marked
    if table.has("tolerance") and table.lacks("value"):
        table.problem("tolerance", "needs a value to be a part of: add one, or leave it out.")
    ends = [table.text(key, "B+1", most=NAME_MOST) for key in ("from", "to")]
    for one, other in (("from", "to"), ("to", "from")):
        if table.has(one) and table.lacks(other):
            table.problem(other, "is missing: a part stands between two places, from and to.")
    table.refuse_rest()
    joins = (ends[0], ends[1]) if ends[0] is not None and ends[1] is not None else None
    return Part(name, kind, value, joins, _factors(tolerance), unit)


def _value(table: Table, kind: str, unit: Unit) -> tuple[float | None, Tolerance | None]:
    if unit is Unit.UNKNOWN:
        if table.has("value") and kind:
            table.problem("value", f"has no meaning for a {kind}: leave it out.")
        return None, None
    found = table.written("value", lambda text: part_value(text, unit), EXAMPLE[unit])
    if found is not None and found[0].value <= 0:
        table.problem("value", f"must be more than 0, like `{EXAMPLE[unit]}`.")
    return (None, None) if found is None else (found[0].number, found[1])


def _factors(tolerance: Tolerance | None) -> Span | None:
    if tolerance is None:
        return None
    return Span(float(1 - tolerance.down / 100), float(1 + tolerance.up / 100))


_IDENTIFIER = re.compile(r"[A-Za-z_][A-Za-z_0-9]*")


def read_derived(table: Table, points: dict[str, Point]) -> Derived:
    """The derived quantity as far as it can be read; `points` by their names."""
    name = table.text("name", "output cathode current", needed=True, most=NAME_MOST) or ""
    uses, sound = _uses(table, points)
    text = table.text("formula", "k / (270 * ohm)", needed=True) or ""
    formula = None
    if sound:
        formula = _formula(table, text, {short: points[full].unit for short, full in uses.items()})
    elif text and (what := wrong_writing(text)) is not None:
        table.problem("formula", what)
    limit = _limit(table, formula)
    table.refuse_rest()
    unit = formula.unit if formula else Unit.UNKNOWN
    return Derived(name, tuple(uses.items()), text, limit, unit)


def _uses(table: Table, points: dict[str, Point]) -> tuple[dict[str, str], bool]:
    """Names in the formula -> points, and whether all of them are sound."""
    like = '{ k = "V6 cathode" }'
    inner = table.inner("uses", like)
    if inner is None or not inner.data:
        if table.lacks("uses") or inner is not None:
            table.problem("uses", f"must say which points the formula is about: uses = {like}.")
        return {}, False
    found: dict[str, str] = {}
    sound = True
    for short in inner.data:
        full = inner.text(short, "V6 cathode", most=NAME_MOST)
        what = _wrong_use(short, full, points) if full is not None else None
        if what:
            inner.problem(short, what)
        if full is None or what:
            sound = False
        else:
            found[short] = full
    return found, sound


def _wrong_use(short: str, full: str, points: dict[str, Point]) -> str | None:
    if not _IDENTIFIER.fullmatch(short):
        return "is no name for a formula: use letters, digits and _ only, beginning with a letter."
    if unit_constant(short) is not None:
        return "is also the name of a unit: choose another letter for the formula."
    if full not in points:
        return f"names no point of this chart.{nearest(full, points)}"
    if points[full].unit is Unit.STATE:
        return f"is a point that is lit or out, `{full}`: a formula needs a number."
    return None


def _formula(table: Table, text: str, units: dict[str, Unit]) -> Formula | None:
    if not text or Unit.UNKNOWN in units.values():
        return None
    try:
        formula = parse_formula(text, units)
    except QuantityError as error:
        table.problem("formula", str(error))
        return None
    for short in units:
        if short not in formula.names:
            table.problem(
                "uses",
                f"names `{short}`, which the formula does not use: take it out, or use it.",
            )
    if formula.unit is Unit.UNKNOWN and formula.dimension[:4] != PLAIN[:4]:
        table.problem(
            "formula", f"comes out in {in_words(formula.dimension)}: no quantity that a meter shows."
        )
        return None
    return formula


def _limit(table: Table, formula: Formula | None) -> float | None:
    if formula is None:
        table.has("limit")
        return None
    unit = formula.unit if formula.unit is not Unit.UNKNOWN else Unit.PERCENT
    found = table.written("limit", lambda text: parse_quantity(text, unit), EXAMPLE[unit])
    if found is None:
        return None
    return float(found.value / 100) if unit is Unit.PERCENT else found.number
