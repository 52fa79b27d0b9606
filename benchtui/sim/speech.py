"""How the simulated meters speak that talk unasked: a line a reading."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from benchtui.model.readings import NO_VALUE
from benchtui.model.units import Unit

_SAID = {Unit.V: "V DC", Unit.VAC: "V AC", Unit.STATE: ""}


@dataclass(frozen=True, slots=True)
class Shown:
    """One reading as a display shows it."""

    value: float
    decimals: int
    flags: int
    unit: Unit

    @property
    def digits(self) -> str:
        """Sign and digits, like `+285.3`."""
        return f"{self.value:+.{max(0, self.decimals)}f}"

    @property
    def over(self) -> bool:
        """True where there is no value."""
        return bool(self.flags & NO_VALUE)


def value_with_unit(shown: Shown) -> bytes:
    """`+285.3 V DC`, or ` OL   V DC`, CR LF."""
    said = " OL  " if shown.over else shown.digits
    return f"{said} {_SAID[shown.unit]}\r\n".encode("ascii")


def unit_first(shown: Shown) -> bytes:
    """`DC   94.9 V`, or `DC     OL V`, LF."""
    said = "OL" if shown.over else shown.digits.lstrip("+")
    return f"{'AC' if shown.unit is Unit.VAC else 'DC'} {said:>7} V\n".encode("ascii")


def plain_number(shown: Shown) -> bytes:
    """`240.1`, or `OL`, CR LF: the wire does not say of what."""
    return b"OL\r\n" if shown.over else f"{shown.digits.lstrip('+')}\r\n".encode("ascii")


def state(shown: Shown) -> bytes:
    """`1` or `0`, LF."""
    return b"1\n" if shown.value > 0.5 else b"0\n"


SPEECH: dict[str, Callable[[Shown], bytes]] = {
    "value_with_unit": value_with_unit,
    "unit_first": unit_first,
    "plain_number": plain_number,
    "state": state,
}
"""The wire formats of meters that talk unasked. The other is `scpi`."""
