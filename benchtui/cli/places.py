"""Where a person's files are: benches and settings in the configuration folder, sessions with the data."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

from benchtui.model.errors import BenchError, SessionError


def config_folder() -> Path:
    """The person's configuration folder for this program; it need not exist."""
    from platformdirs import user_config_path

    return user_config_path("benchtui", appauthor=False)


def sessions_folder() -> Path:
    """Where sessions go that were given no name; it need not exist."""
    from platformdirs import user_data_path

    return user_data_path("benchtui", appauthor=False) / "sessions"


def settings_file() -> Path | None:
    """The person's settings, if there are any."""
    path = config_folder() / "settings.toml"
    return path if path.is_file() else None


def bench_file(named: str | None) -> Path:
    """A bench by path or by its name in the configuration folder; without a name the one called `bench`.

    Raises:
        BenchError: there is none.
    """
    folder = config_folder()
    if named is None:
        path = folder / "bench.toml"
        if not path.is_file():
            raise BenchError(f"which meters? Give --bench FILE, or keep your bench in {path}")
        return path
    for path in (Path(named), folder / named, folder / f"{named}.toml"):
        if path.is_file():
            return path
    raise BenchError(f"there is no bench {named}, here or in {folder}")


def new_session_path(set_name: str, started: datetime) -> Path:
    """A name that is not taken, in the sessions folder, made of the set and the time of day.

    Raises:
        SessionError: the folder cannot be made.
    """
    folder = sessions_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SessionError(f"{folder} cannot be made: {error.strerror}; give --session FILE") from error
    name = re.sub(r"[^A-Za-z0-9]+", "-", set_name).strip("-")[:40] or "set"
    stem = f"{name}_{started:%Y-%m-%d_%H%M%S}"
    path = folder / f"{stem}.session"
    number = 2
    while path.exists():
        path = folder / f"{stem}_{number}.session"
        number += 1
    return path
