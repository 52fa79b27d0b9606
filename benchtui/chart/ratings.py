"""What a point's values say of each other: the tolerance band, the working rating and the surge."""

from __future__ import annotations

from benchtui.model.units import Unit

from .levels import UNITS, Levels
from .phrases import Tolerance, parse_tolerance
from .quantity import write_quantity
from .table import Table


def work_out_band(table: Table, found: Levels, standard: Tolerance | None) -> None:
    """Sets low and high from the point's tolerance, or the set's; what was written as low and high stays."""
    bounds = table.has("low") or table.has("high")
    own = None
    if table.has("tolerance"):
        units = (found.unit,) if found.unit is not None else UNITS
        own = table.written("tolerance", lambda text: parse_tolerance(text, *units), "+10 % -15 %")
        if bounds:
            table.problem("tolerance", "stands beside low or high: give either a tolerance, or low and high.")
            return
        if found.nominal is None and table.lacks("nominal"):
            what = 'needs a nominal to be a part of: add nominal = "285 V", or give low and high.'
            table.problem("tolerance", what)
            return
    if bounds:
        _check_bounds(table, found)
        return
    tolerance = own if table.has("tolerance") else standard
    if found.nominal == 0 and (tolerance is None or tolerance.unit is Unit.PERCENT):
        _zero(table, found.unit or Unit.V)
    elif found.nominal is not None and tolerance is not None:
        found.low, found.high = tolerance.band(found.nominal)


def _zero(table: Table, unit: Unit) -> None:
    low = "" if unit in (Unit.VAC, Unit.AAC) else f'low = "-0.5 {unit.symbol}" and '
    what = (
        f'is 0, and a part of 0 is nothing: add {low}high = "0.5 {unit.symbol}", as wide as the sheet allows.'
    )
    table.problem("nominal", what)


def _check_bounds(table: Table, found: Levels) -> None:
    low, high, unit = found.low, found.high, found.unit or Unit.V
    if low is not None and high is not None and low > high:
        table.problem("low", f"is above high, {write_quantity(high, unit)}: swap the two.")
    elif found.nominal is not None and low is not None and found.nominal < low:
        table.problem("nominal", f"is below low, {write_quantity(low, unit)}: one of the two is wrong.")
    elif found.nominal is not None and high is not None and found.nominal > high:
        table.problem("nominal", f"is above high, {write_quantity(high, unit)}: one of the two is wrong.")


def check_ratings(table: Table, found: Levels) -> None:
    """The limit lies beyond the band and the surge beyond the limit; both are kept as sizes, without a sign.

    Where a point is negative its ratings can be written with the minus or without.
    """
    unit = found.unit or Unit.V
    ends = [x for x in (found.nominal, found.low, found.high) if x is not None]
    for key in ("limit", "surge"):
        value = getattr(found, key)
        if value is None:
            continue
        if value == 0 or (value < 0 and not any(x < 0 for x in ends)):
            table.problem(key, f"must be more than 0: {'leave it out' if not value else 'drop the minus'}.")
            setattr(found, key, None)
        else:
            setattr(found, key, abs(value))
    most = max(ends, key=abs, default=None)
    if found.limit is not None and most is not None and found.limit < abs(most):
        what = "the nominal" if most == found.nominal else "what the band allows"
        said = write_quantity(most, unit)
        table.problem("limit", f"is less than {what}, {said}: correct one of them, or give low and high.")
    if found.surge is None:
        return
    if table.lacks("limit"):
        table.problem("surge", 'needs a limit beside it, for the time after: add limit = "350 V".')
    elif found.limit is not None and found.surge < found.limit:
        said = write_quantity(found.limit, unit)
        table.problem("surge", f"is less than the limit, {said}: a surge goes beyond it for a while.")
