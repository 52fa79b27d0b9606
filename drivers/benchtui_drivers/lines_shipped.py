"""Descriptions of text lines: those that come with the program, and how any is read into options."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from benchtui.driver.contract import LineDefaults
from benchtui.model.errors import DriverError
from benchtui.model.notes import plain

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,40}", re.ASCII)
_TOP = ("title", "source", "about", "line", "lines")
_PARITIES = ("none", "even", "odd", "mark", "space")


def names() -> tuple[str, ...]:
    """What there is, in alphabetical order."""
    found = (entry.name for entry in _folder().iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in found if name.endswith(".toml")))


def shipped(name: str) -> dict[str, Any]:
    """The description of this name, as its tables.

    Raises:
        DriverError: there is none.
    """
    if not _NAME.fullmatch(name) or name not in names():
        raise DriverError(
            f"description: none is called “{plain(name, 60)}”; there is: {', '.join(names())}; "
            "or write its keys into the bench entry itself"
        )
    return tomllib.loads((_folder() / f"{name}.toml").read_text("utf-8"))


def described(options: Mapping[str, Any]) -> tuple[dict[str, Any], LineDefaults]:
    """The options with those of the description below them, and the line that it says.

    The bench entry's own keys stand before the description's.

    Raises:
        DriverError: there is no such description, or it is not written as one.
    """
    own = {key: value for key, value in options.items() if key != "description"}
    said = options.get("description")
    if said is None:
        return own, LineDefaults()
    tables = shipped(said) if isinstance(said, str) else said
    if not isinstance(tables, Mapping):
        raise DriverError("description: write the name of a description, or its tables")
    strange = [key for key in tables if key not in _TOP]
    if strange:
        raise DriverError(
            f"description: has no place for {plain(str(strange[0]), 40)}; it has: {', '.join(_TOP)}"
        )
    keys = tables.get("lines", {})
    if not isinstance(keys, Mapping) or "description" in keys:
        raise DriverError("description: [lines] must be a table of the keys that a bench entry has")
    return {**keys, **own}, _line(tables.get("line", {}))


def _line(given: Any) -> LineDefaults:
    if not isinstance(given, Mapping) or (set(given) - {"baud", "bits", "parity", "stop"}):
        raise DriverError("description: [line] is a table of baud, bits, parity, stop")
    baud, bits = given.get("baud", 9600), given.get("bits", 8)
    parity, stop = given.get("parity", "none"), given.get("stop", 1)
    if type(baud) is not int or not 50 <= baud <= 4_000_000:
        raise DriverError("description: [line] baud: write a speed, like 9600")
    if bits not in (5, 6, 7, 8) or parity not in _PARITIES or stop not in (1, 1.5, 2):
        raise DriverError("description: [line] bits is 5 to 8, parity a word like odd, stop 1, 1.5 or 2")
    return LineDefaults(baud, bits, parity, stop)


def _folder() -> Traversable:
    return files("benchtui_drivers") / "descriptions" / "lines"
