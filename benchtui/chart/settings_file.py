"""From a settings file and the command line to a person's settings, or to every problem at once."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from benchtui.model.errors import ChartError, Problem
from benchtui.model.notes import plain
from benchtui.model.units import Unit

from .phrases import parse_alarms
from .problems import Problems
from .quantity import QuantityError, parse_quantity, quoted, write_quantity
from .settings import Settings
from .table import Table
from .toml_text import load

LOOKS = ["dark", "light", "sixteen", "plain", "ascii"]
"""The looks that the dashboard has, the usual one first."""
MOST_VOLTS = Decimal(120)
"""The warning level can't be set above this: 120 V DC is the end of extra-low voltage (IEC 61140, memory)."""
COMMAND_LINE = "command line"


def read_settings(text: str, file: str, overrides: Mapping[str, str] | None = None) -> Settings:
    """The settings in this text; what the command line said (key -> text) goes before it.

    Raises:
        ChartError: with every problem of the file, and then of the command line.
    """
    problems: list[Problem] = []
    chosen: dict[str, object] = {}
    asked = {key: _typed(key, value) for key, value in (overrides or {}).items()}
    for name, data, source in ((file, load(text, file), text), (COMMAND_LINE, asked, "")):
        collected = Problems(name, source)
        chosen |= _read(Table(data, (), collected))
        try:
            collected.raise_if_any()
        except ChartError as error:
            problems += error.problems
    if problems:
        raise ChartError([_as_option(p) for p in problems])
    found = Settings(**chosen, text=text)  # type: ignore[arg-type]
    return found if not asked else Settings(**chosen, text=settings_text(found))  # type: ignore[arg-type]


def settings_text(settings: Settings) -> str:
    """TOML that reads back as the same settings."""
    level = write_quantity(settings.warn_above, Unit.V)
    alarms = write_quantity(settings.false_alarms_per_h, Unit.HZ).split(" ")[0]
    return (
        f'warn_above = "{level}"\nfalse_alarms = "{alarms} in 1 h"\n'
        f'sound = {str(settings.sound).lower()}\nlook = "{settings.look}"\n'
    )


def _read(table: Table) -> dict[str, object]:
    found = {
        "warn_above": table.written("warn_above", _level, "30 V"),
        "false_alarms_per_h": table.written("false_alarms", parse_alarms, "1 in 100 h"),
        "sound": table.flag("sound"),
        "look": table.choice("look", LOOKS),
    }
    table.refuse_rest()
    return {key: value for key, value in found.items() if value is not None}


def _level(text: str) -> float:
    found = parse_quantity(text, Unit.V, Unit.VAC)
    if found.coupling:
        raise QuantityError(f"{quoted(text)}: the level holds for DC and AC alike; write it like `30 V`.")
    if not 1 <= found.value <= MOST_VOLTS:
        raise QuantityError(f"{quoted(text)} must lie between 1 V and {MOST_VOLTS} V, like `30 V`.")
    return found.number


_WORDS = {"on": True, "true": True, "yes": True, "off": False, "false": False, "no": False}


def _typed(key: str, value: str) -> object:
    return _WORDS.get(value.strip().lower(), value) if key == "sound" else value


def _as_option(problem: Problem) -> Problem:
    """On the command line a key is an option: `--warn-above`."""
    if problem.file != COMMAND_LINE:
        return problem
    return Problem(problem.file, None, f"--{plain(problem.key).replace('_', '-')}", problem.what)
