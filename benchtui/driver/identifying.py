"""Which drivers make readings of what was heard, the best first, and a bench entry for each."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from benchtui.model.errors import DriverError
from benchtui.model.units import Unit

from .candidate import Candidate
from .catalogue import open_driver
from .contract import DriverOptions, LineDefaults
from .description import MeterDescription
from .guess import parity_of
from .listener import Listener
from .trial import Chunk, Fit, only_listens, stripped, tried

Resolve = Callable[[str, Mapping[str, Any]], Mapping[str, Any]]
"""Gives a driver's options with the person's own descriptions in place of their names."""


@dataclass(frozen=True, slots=True)
class Found:
    """A candidate that makes readings of it."""

    candidate: Candidate
    fit: Fit


def opened(candidate: Candidate, resolve: Resolve) -> Listener | None:
    """With a fresh driver; None where it cannot be opened without knowing more."""
    try:
        return _opened(candidate, resolve)
    except DriverError:
        return None


def _opened(candidate: Candidate, resolve: Resolve) -> Listener:
    options = resolve(candidate.driver, candidate.options)
    driver = open_driver(candidate.driver, DriverOptions("", options=options))
    channels = tuple(range(len(driver.channels)))
    return Listener(driver, MeterDescription("", candidate.driver, options=options, channels=channels))


def why_not(candidate: Candidate, chunks: Sequence[Chunk], resolve: Resolve, line: LineDefaults) -> str:
    """Why a candidate that only listens makes no readings of these bytes, for a person; empty if it does."""
    try:
        listener = _opened(candidate, resolve)
    except DriverError as error:
        return "\n".join(said.removeprefix("meter : ") for said in str(error).splitlines())
    if not chunks or not only_listens(listener) or fitting([candidate], chunks, resolve, line):
        return ""
    fit = tried(_opened(candidate, resolve), chunks, line)
    return fit.why or f"it makes {fit.readings} readings of {fit.total} bytes"


def listening(candidates: Iterable[Candidate], resolve: Resolve) -> list[Candidate]:
    """Those that need not ask."""
    return [c for c in candidates if (made := opened(c, resolve)) is not None and only_listens(made)]


def asking(candidates: Iterable[Candidate], resolve: Resolve) -> list[Candidate]:
    """Those that have to ask."""
    return [c for c in candidates if (made := opened(c, resolve)) is not None and not only_listens(made)]


def fitting(
    candidates: Iterable[Candidate], chunks: Sequence[Chunk], resolve: Resolve, line: LineDefaults
) -> list[Found]:
    """Which of these, that only listen, make readings of these bytes; the best first.

    `line` is how the port was set, and how each fit will say that it is to be set. Where
    the highest bits are parity, each driver is given the bytes without them.
    """
    parity = parity_of(b"".join(c.data for c in chunks))
    plain_chunks = stripped(chunks) if parity else chunks
    if parity:
        line = replace(line, bits=7, parity=parity)
    found = []
    for candidate in candidates:
        listener = opened(candidate, resolve)
        if listener is None:
            continue
        fit = tried(listener, plain_chunks, line)
        if fit.fits:
            found.append(Found(candidate, fit))
    return sorted(found, key=lambda f: (f.fit.junk, -f.fit.readings))


def entry(
    found: Found, name: str, port: str, own: LineDefaults, pins: Mapping[str, bool] | None = None
) -> str:
    """A `[[meter]]` for a bench file. `own` is the driver's line: only what differs from it is written.

    `pins`: dtr and rts, where they were set to hear anything.
    """
    fit = found.fit
    said: dict[str, Any] = {"name": name, "driver": found.candidate.driver, "port": port}
    for key in ("baud", "bits", "parity", "stop"):
        if getattr(fit.line, key) != getattr(own, key):
            said[key] = getattr(fit.line, key)
    said |= found.candidate.options
    rows = [f"{key} = {_toml(value)}" for key, value in said.items()]
    if pins:
        levels = ", ".join(f"{pin} = {json.dumps(level)}" for pin, level in pins.items())
        rows.append(f"power_pins = {{ {levels} }}")
    if fit.unit is Unit.UNKNOWN:
        rows.append('# measures = "V"         # what it is set to: the wire does not say')
    else:
        rows.append(f'measures = "{fit.unit.symbol}"')
    rows += [
        '# point = "B+1"          # where its lead is, by the name in your chart',
        '# accuracy = "0.5 % + 2 counts"   # from its data sheet',
        '# input_resistance = "10 Mohm"    # from its data sheet',
    ]
    return "\n".join(["[[meter]]", *rows]) + "\n"


def _toml(value: Any) -> str:
    """A value on one line."""
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {_toml(inner)}' for key, inner in value.items())} }}"
    if isinstance(value, list):
        return f"[{', '.join(_toml(inner) for inner in value)}]"
    return json.dumps(value, ensure_ascii=False)
