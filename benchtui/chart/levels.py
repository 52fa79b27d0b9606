"""What a point should read: unit, nominal, band, ratings. DC and AC are kept apart here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from benchtui.model.units import BY_SYMBOL, Unit

from .dimension import QUANTITY
from .phrases import parse_surge
from .quantity import EXAMPLE, Quantity, QuantityError, parse_quantity, quoted, write_quantity
from .table import Table

UNITS = (Unit.V, Unit.VAC, Unit.A, Unit.AAC, Unit.OHM, Unit.HZ, Unit.CELSIUS, Unit.WATT)
"""What a point can be measured in; the eye's STATE aside."""
_NEVER_NEGATIVE = (Unit.VAC, Unit.AAC, Unit.OHM, Unit.HZ)
_SURGE = "400 V for 30 s"
STATES = {"lit": 1, "out": 0}


@dataclass(slots=True)
class Levels:
    """What was read so far; problems are already told."""

    unit: Unit | None = None
    nominal: Decimal | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    limit: Decimal | None = None
    surge: Decimal | None = None
    surge_s: float = 0.0


def read_levels(table: Table, mains: Decimal | None, glow: bool, seen: bool) -> Levels:
    """The levels of a point.

    `mains` is the set's mains where this point is the mains itself. A glow without any value is one that
    is to be lit; a seen point has to say whether it is to be lit or out.
    """
    nominal = table.data.get("nominal")
    word = nominal.strip().lower() if isinstance(nominal, str) else ""
    bare = not any(table.has(k) for k in ("nominal", "low", "high", "limit", "unit"))
    if word in STATES or (glow and bare and table.lacks("nominal")):
        return _state(table, STATES.get(word, 1))
    if word.isalpha() or (seen and bare):
        if word or table.lacks("nominal"):
            table.problem("nominal", 'must be "lit" or "out", or what a meter reads, like "285 V".')
        return Levels()
    return _Reader(table, mains).read()


def _state(table: Table, nominal: int) -> Levels:
    for key in ("unit", "tolerance", "low", "high", "limit", "surge", "ripple", "range", "moves", "bleed"):
        if table.has(key):
            table.problem(key, "has no meaning for a point that is lit or out: leave it out.")
    return Levels(Unit.STATE, Decimal(nominal))


class _Reader:
    """Reads the values of one point and settles which unit it has: what most of its values say."""

    def __init__(self, table: Table, mains: Decimal | None) -> None:
        self.table = table
        self.mains = mains
        self.values: dict[str, Quantity] = {}
        self.time = 0.0

    def read(self) -> Levels:
        like = {"nominal": "285 V", "low": "245 V", "high": "310 V", "limit": "350 V"}
        for key, example in like.items():
            self._take(key, example, lambda text: parse_quantity(text, *UNITS))
        self._take("surge", _SURGE, self._surge)
        unit = self._unit()
        values = {key: q.value for key, q in self.values.items() if unit is None or q.unit is unit}
        if self.mains is not None:
            if "nominal" in values and values["nominal"] != self.mains:
                said = write_quantity(self.mains, Unit.VAC)
                self.table.problem("nominal", f"differs from the mains in [set], {said}: make them one.")
            values.setdefault("nominal", self.mains)
        return Levels(unit, **values, surge_s=self.time)

    def _take(self, key: str, like: str, parse: Callable[[str], Quantity]) -> None:
        found = self.table.written(key, parse, like)
        if found is not None:
            self.values[key] = found

    def _surge(self, text: str) -> Quantity:
        size, time = parse_surge(text, *UNITS)
        self.time = time.number
        return size

    def _unit(self) -> Unit | None:
        units = {key: q.unit for key, q in self.values.items()}
        said = self.table.written("unit", _unit_word, "V")
        if self._is_mains():
            unit, why = Unit.VAC, "the mains"
        elif said is not None:
            unit, why = said, "its unit"
        elif units:
            unit = max(dict.fromkeys(units.values()), key=list(units.values()).count)
            why = "its " + next(key for key, u in units.items() if u is unit)
        else:
            self._nothing_said()
            return None
        if said is not None:
            units["unit"] = said
        for key, other in units.items():
            if other is not unit:
                self._clash(key, other, unit, why)
        self._refuse_negative(unit)
        return unit

    def _refuse_negative(self, unit: Unit) -> None:
        for key, q in self.values.items():
            if q.value < 0 and q.unit is unit and unit in _NEVER_NEGATIVE:
                self.table.problem(
                    key, f"is negative: {QUANTITY[unit]} can't be; write it without the minus."
                )

    def _is_mains(self) -> bool:
        name = self.table.data.get("name")
        return isinstance(name, str) and name.strip().casefold() == "mains"

    def _clash(self, key: str, other: Unit, unit: Unit, why: str) -> None:
        written, hint = EXAMPLE[unit], ""
        if {other, unit} in ({Unit.V, Unit.VAC}, {Unit.A, Unit.AAC}):
            hint = f" ({Unit.V.symbol if other in (Unit.V, Unit.VAC) else Unit.A.symbol} is DC)"
            if key in self.values:
                written = write_quantity(self.values[key].value, unit)
                written += f" for {self.time:g} s" if key == "surge" else ""
        written = unit.symbol if key == "unit" else written
        what = f"says {QUANTITY[other]}, but {why} says {QUANTITY[unit]}{hint}: write `{written}`"
        self.table.problem(
            key, what + (", as the mains is AC." if why == "the mains" else ", or change the other.")
        )

    def _nothing_said(self) -> None:
        if all(self.table.lacks(k) for k in ("nominal", "low", "high", "limit", "unit")):
            what = (
                'is missing: write nominal = "285 V", or low and high, or unit = "V" where nothing is known.'
            )
            self.table.problem("nominal", what)


def _unit_word(text: str) -> Unit:
    unit = BY_SYMBOL.get(text.strip())
    if unit is None or unit not in UNITS:
        words = ", ".join(f"`{u.symbol}`" for u in UNITS)
        raise QuantityError(f"{quoted(text)} is no unit of a point: write one of {words}.")
    return unit
