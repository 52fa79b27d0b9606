"""The unit words of the trade: what people write behind a number, and what it means.

A prefix that could be read two ways (`mohm`, `MA`, `MF`) is refused, never guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from benchtui.model.units import Unit


@dataclass(frozen=True, slots=True)
class UnitWord:
    """What a unit word means."""

    unit: Unit
    scale: int = 0
    """The power of ten to the SI unit."""
    times: int = 1
    """Seconds in it, for minutes and hours; 1 otherwise."""
    coupling: str = ""
    """`ac` or `dc` where the writer said so."""
    doubt: str = ""
    """Not empty: how else to write it, because it can be read in two ways."""


_SCALE = {
    "": 0, "p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "K": 3, "M": 6, "G": 9,
    "pico": -12, "nano": -9, "micro": -6, "milli": -3, "kilo": 3, "kil": 3, "mega": 6, "meg": 6, "giga": 9,
    "Meg": 6, "MEG": 6, "N": -9, "U": -6, "P": -12,
}  # fmt: skip
_SPELLED = frozenset(("pico", "nano", "micro", "milli", "kilo", "mega", "giga"))

_BASES: tuple[tuple[Unit, tuple[str, ...], frozenset[str], dict[str, str]], ...] = (
    (Unit.V, ("V", "v", "volts", "volt", "Volts", "Volt"), frozenset(("", "u", "m", "k", "K")),
     {"M": "write `mV` for thousandths of a volt"}),
    (Unit.A, ("A", "a", "amps", "amp", "amperes", "ampere", "Amps", "Amp"),
     frozenset(("", "p", "n", "u", "m", "k")), {"M": "write `mA` for thousandths of an ampere"}),
    (Unit.OHM, ("ohms", "ohm", "Ohms", "Ohm", "OHMS", "OHM", "R"),
     frozenset(("", "k", "K", "M", "G", "meg", "Meg", "MEG", "kil")),
     {"m": "write `Mohm` for a million ohms, or the thousandths as `0.01 ohm`"}),
    (Unit.FARAD, ("farads", "farad", "F", "f"), frozenset(("", "p", "n", "u", "P", "N", "U")),
     {"m": "write `uF` for millionths of a farad", "M": "write `uF` for millionths of a farad"}),
    (Unit.HENRY, ("H", "henries", "henry", "henrys"), frozenset(("", "n", "u", "m")),
     {"M": "write `mH` for thousandths of a henry"}),
    (Unit.HZ, ("Hz", "hz", "HZ", "hertz", "c/s"), frozenset(("", "k", "K", "M", "G")),
     {"m": "write `MHz` for a million"}),
    (Unit.WATT, ("W", "w", "watts", "watt", "Watts", "Watt"), frozenset(("", "u", "m", "k", "K")),
     {"M": "write `mW` for thousandths of a watt"}),
    (Unit.SECOND, ("s", "seconds", "second", "secs", "sec"), frozenset(("", "n", "u", "m")), {}),
)  # fmt: skip
"""Unit, its words (longer ones first where one ends another), prefixes that fit, prefixes in doubt."""

_FIXED = {
    "min": UnitWord(Unit.SECOND, times=60),
    "mins": UnitWord(Unit.SECOND, times=60),
    "minute": UnitWord(Unit.SECOND, times=60),
    "minutes": UnitWord(Unit.SECOND, times=60),
    "h": UnitWord(Unit.SECOND, times=3600),
    "hr": UnitWord(Unit.SECOND, times=3600),
    "hour": UnitWord(Unit.SECOND, times=3600),
    "hours": UnitWord(Unit.SECOND, times=3600),
    "%": UnitWord(Unit.PERCENT),
    "percent": UnitWord(Unit.PERCENT),
    "dB": UnitWord(Unit.DB),
    "degC": UnitWord(Unit.CELSIUS),
    "\u00b0C": UnitWord(Unit.CELSIUS),
    "k": UnitWord(Unit.OHM, 3),
    "K": UnitWord(Unit.OHM, 3),
    "M": UnitWord(Unit.OHM, 6),
    "meg": UnitWord(Unit.OHM, 6),
    "Meg": UnitWord(Unit.OHM, 6),
    "MEG": UnitWord(Unit.OHM, 6),
    "G": UnitWord(Unit.OHM, 9),
    "r": UnitWord(Unit.OHM),
    "u": UnitWord(Unit.FARAD, -6),
    "n": UnitWord(Unit.FARAD, -9),
    "p": UnitWord(Unit.FARAD, -12),
    "m": UnitWord(Unit.UNKNOWN, doubt="write the unit in full, like `5 min` or `1 Mohm`"),
    # old sheets: mfd is a millionth, mmfd a millionth of it (common practice, no source)
    **dict.fromkeys(("mfd", "MFD", "Mfd", "ufd", "uFd"), UnitWord(Unit.FARAD, -6)),
    **dict.fromkeys(("mmf", "MMF", "mmfd", "MMFD", "uuF", "uuf", "uufd"), UnitWord(Unit.FARAD, -12)),
}

_COUPLING = re.compile(r"(.*?)(ac|AC|Ac|dc|DC|Dc|rms|RMS|~|=|\u2393)")
_PEAK = re.compile(r"[munkKM]?[Vv](?:pp|p-p|pk-pk|pk|p|peak)", re.IGNORECASE)


def look_up(word: str) -> UnitWord | None:
    """The meaning of a unit word, spaces and dots inside it ignored; None where it is not one of ours."""
    bare = word.replace(" ", "").replace(".", "")
    if _PEAK.fullmatch(bare):
        return UnitWord(Unit.VAC, doubt="a meter shows the rms value: write that, like `6.3 Vac`")
    found = _FIXED.get(bare) or _with_prefix(bare)
    if found is None and (match := _COUPLING.fullmatch(bare)):
        found = _with_prefix(match[1])
        return None if found is None else _coupled(found, match[2].lower())
    return found


def _with_prefix(word: str) -> UnitWord | None:
    for unit, names, prefixes, doubts in _BASES:
        for name in names:
            if not word.endswith(name):
                continue
            prefix = word[: -len(name)]
            if prefix in doubts:
                return UnitWord(unit, doubt=doubts[prefix])
            if prefix in prefixes or (prefix in _SPELLED and len(name) > 2):
                return UnitWord(unit, _SCALE[prefix])
    return None


def _coupled(found: UnitWord, mark: str) -> UnitWord | None:
    coupling = "dc" if mark in ("dc", "=", "\u2393") else "ac"
    if found.unit not in (Unit.V, Unit.A):
        return None
    ac = Unit.VAC if found.unit is Unit.V else Unit.AAC
    return UnitWord(ac if coupling == "ac" else found.unit, found.scale, coupling=coupling, doubt=found.doubt)
