"""Unit words as meters write them: `mV`, `VDC`, `kohm`, `MOHM`, `uF`: a unit and a power of ten."""

from __future__ import annotations

from benchtui.model.units import Unit

PREFIXES = {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "": 0, "k": 3, "K": 3, "M": 6, "G": 9}
"""Prefix letter -> power of ten. SI, and the `u` and `K` of keyboards."""

_BASES = {
    "v": Unit.V, "a": Unit.A, "w": Unit.WATT, "ohm": Unit.OHM, "ohms": Unit.OHM, "ω": Unit.OHM,
    "f": Unit.FARAD, "h": Unit.HENRY, "hz": Unit.HZ, "s": Unit.SECOND, "sec": Unit.SECOND,
}  # fmt: skip
_BARE = {
    "c": Unit.CELSIUS, "°c": Unit.CELSIUS, "degc": Unit.CELSIUS, "%": Unit.PERCENT, "db": Unit.DB,
    "state": Unit.STATE,
}  # fmt: skip
_MEANS_ELSE = frozenset(("S", "h"))
"""Siemens and hours, not seconds and henries."""
_MEGA = frozenset((Unit.OHM, Unit.HZ))
_AS_AC = {Unit.V: Unit.VAC, Unit.A: Unit.AAC}


def unit_word(word: str, *, expected: Unit = Unit.UNKNOWN) -> tuple[Unit, int] | None:
    """The unit and the power of ten that a word means; None if it means none, or could mean two things.

    A bare `V` or `A` is AC where `expected` is, else DC. `M` is mega on ohms and hertz; on volts, amperes and
    the rest it is refused, for a display with capitals only may mean milli.
    """
    folded = word.strip()
    bare = _BARE.get(folded.lower())
    if bare is not None:
        return bare, 0
    for length in (0, 1):
        found = _parts(folded, length)
        if found is None:
            continue
        base, prefix, kind = found
        power = _power(prefix, base)
        if power is None:
            continue
        return _as_measured(base, kind, expected), power
    return None


def _parts(word: str, length: int) -> tuple[Unit, str, str] | None:
    """Base unit, prefix letter and dc/ac of a word with a prefix of this many letters."""
    rest, kind = word, ""
    lower = rest.lower()
    for tag in ("dc", "ac"):
        if lower.startswith(tag) and len(rest) > 2:
            rest, kind = rest[2:].lstrip(), tag
            break
    lower = rest.lower()
    for tag in ("dc", "ac", "rms"):
        if lower.endswith(tag) and len(rest) > len(tag):
            if kind:
                return None
            rest, kind = rest[: -len(tag)].rstrip(), "ac" if tag == "rms" else tag
            break
    prefix, name = rest[:length], rest[length:].lstrip() if length else rest
    base = None if name in _MEANS_ELSE else _BASES.get(name.lower())
    return None if base is None else (base, prefix, kind)


def _power(prefix: str, base: Unit) -> int | None:
    if prefix == "M":
        return 6 if base in _MEGA else None
    if prefix in PREFIXES:
        return PREFIXES[prefix]
    return PREFIXES.get(prefix.lower()) if prefix in ("U", "N", "P") else None


def _as_measured(base: Unit, kind: str, expected: Unit) -> Unit:
    ac = _AS_AC.get(base)
    if ac is None:
        return base
    if kind:
        return ac if kind == "ac" else base
    return ac if expected is ac else base
