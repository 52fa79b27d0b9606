"""The one door to pint: units that the trade seldom writes. It is loaded at the first knock."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache
from typing import Any

from .dimension import Dimension

_ALLOWED = re.compile(r"[A-Za-z_]+(?:(?: ?[*/] ?| )[A-Za-z_]+|(?:\*\*|\^)-?[1-4])*")
"""Names, products and small powers only: pint also evaluates numbers, and those could be endless."""


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Decimal)


@cache
def look_up(unit: str) -> tuple[Decimal, Dimension | None, str] | None:
    """The factor to SI units, the electrical dimension (None for a length, a mass...) and its name.

    Gives None for what pint does not know either. The first call costs up to a second.
    """
    if len(unit) > 40 or not _ALLOWED.fullmatch(unit):
        return None
    from tokenize import TokenError

    from pint.errors import PintError

    try:
        base = _registry().Quantity(Decimal(1), unit).to_base_units()
        factor = Decimal(base.magnitude)
        powers = {str(name): power for name, power in base.dimensionality.items()}
    except (PintError, TokenError, SyntaxError, ArithmeticError, ValueError, TypeError, LookupError):
        return None
    return _in_grams(factor, powers), _electrical(powers), _named(powers)


def _in_grams(factor: Decimal, powers: dict[str, Any]) -> Decimal:
    """pint's base of mass may be the gram or the kilogram; ours is the kilogram."""
    grams = _registry().Quantity(Decimal(1), "kilogram").to_base_units().magnitude
    mass = powers.get("[mass]", 0)
    return factor if grams == 1 or not mass else factor / Decimal(grams) ** Decimal(mass)


def _electrical(powers: dict[str, Any]) -> Dimension | None:
    """From mass, length, time and current to volt, ampere and second: V = kg m^2 s^-3 A^-1."""
    known = {"[mass]", "[length]", "[time]", "[current]", "[temperature]"}
    if any(p != int(p) for p in powers.values()) or not set(powers) <= known:
        return None
    mass, length, time, current, kelvin = (int(powers.get(k, 0)) for k in (
        "[mass]", "[length]", "[time]", "[current]", "[temperature]"))  # fmt: skip
    if length != 2 * mass:
        return None
    return (mass, current + mass, time + 3 * mass, kelvin, 0)


def _named(powers: dict[str, Any]) -> str:
    if len(powers) == 1 and next(iter(powers.values())) == 1:
        word = next(iter(powers)).strip("[]")
        return ("an " if word[0] in "aeiou" else "a ") + word
    return "something else"
