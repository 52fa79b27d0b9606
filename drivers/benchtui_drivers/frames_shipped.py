"""The descriptions that come with the program, by name."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from benchtui.model.errors import DriverError
from benchtui.model.notes import plain

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,40}", re.ASCII)


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
            "or write the tables themselves below [meter.description]"
        )
    return tomllib.loads((_folder() / f"{name}.toml").read_text("utf-8"))


def _folder() -> Traversable:
    return files("benchtui_drivers") / "descriptions" / "frames"
