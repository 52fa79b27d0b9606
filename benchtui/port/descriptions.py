"""The person's own descriptions of wire formats: files in the configuration folder, handed on as tables.

`descriptions/frames/my-meter.toml` there is what `description = "my-meter"` means to the driver `frames`; it
stands before a shipped description of that name. Drivers do no I/O, so they are given the tables themselves.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from benchtui.driver.candidate import Candidate
from benchtui.model.errors import DriverError
from benchtui.model.notes import plain

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,40}", re.ASCII)
_MOST = 1_000_000


def folder() -> Path:
    """Where they are kept, one folder a driver; it need not exist."""
    from platformdirs import user_config_path

    return user_config_path("benchtui", appauthor=False) / "descriptions"


def own_names(driver: str) -> tuple[str, ...]:
    """The names of the person's own descriptions for this driver, in alphabetical order."""
    if not _NAME.fullmatch(driver):
        return ()
    try:
        found = [p.stem for p in (folder() / driver).glob("*.toml")]
    except OSError:
        return ()
    return tuple(sorted(name for name in found if _NAME.fullmatch(name)))


def resolved(driver: str, options: Mapping[str, Any]) -> dict[str, Any]:
    """The options with the person's own description in place of its name, if there is one of that name.

    Raises:
        DriverError: the file cannot be read, or is no TOML; the text says where.
    """
    name = options.get("description")
    if not isinstance(name, str) or name not in own_names(driver):
        return dict(options)
    path = folder() / driver / f"{name}.toml"
    try:
        with path.open("rb") as file:
            text = file.read(_MOST).decode("utf-8")
        return {**options, "description": tomllib.loads(text)}
    except OSError as error:
        raise DriverError(f"description: {path} cannot be read: {error.strerror}") from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise DriverError(f"description: {path}: {plain(str(error), 160)}") from error


def own_candidates() -> tuple[Candidate, ...]:
    """The person's own descriptions, to be tried on an unknown meter before all others."""
    try:
        drivers = sorted(p.name for p in folder().iterdir() if p.is_dir())
    except OSError:
        return ()
    return tuple(
        Candidate(driver, f"your description {name}", {"description": name})
        for driver in drivers
        for name in own_names(driver)
    )
