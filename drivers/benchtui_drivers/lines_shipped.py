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

from .serial_line import read_serial_line
from .tables import Table

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,40}", re.ASCII)
_TOP = ("title", "source", "about", "line", "lines")


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
    problems: list[str] = []
    table = Table(given, "[line]", problems, "lines")
    line = read_serial_line(table)
    table.finish()
    if problems:
        raise DriverError("\n".join(f"description: {problem}" for problem in problems))
    return line


def _folder() -> Traversable:
    return files("benchtui_drivers") / "descriptions" / "lines"
