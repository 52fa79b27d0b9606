"""What a meter nobody knows yet could be: the ways of opening drivers that are worth trying on its bytes.

An entry point of the group `benchtui.candidates` names a function without arguments that gives candidates. A
driver that has none is tried as it is, without options.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.metadata import entry_points
from typing import Any

from . import catalogue

GROUP = "benchtui.candidates"


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way to open one driver."""

    driver: str
    title: str
    """What it is, for a person."""
    options: Mapping[str, Any] = field(default_factory=dict)
    bauds: tuple[int, ...] = ()
    """Speeds at which such meters are met, the commonest first; empty: the driver's own."""
    parity: str = ""
    """Of such meters' lines; empty: the driver's own."""
    sends: str = ""
    """What it sends to find out, for a person; empty where it only listens."""


def candidates() -> tuple[Candidate, ...]:
    """All that the installed packages bring, the most particular formats first.

    A package whose function fails, or gives anything else, brings none: a broken one must not end the search.
    """
    found: list[Candidate] = []
    for entry in sorted(entry_points(group=GROUP), key=lambda e: (e.name, e.value)):
        try:
            found += [c for c in entry.load()() if isinstance(c, Candidate)]
        except Exception:  # (a stranger's code; the drivers themselves are told when they are opened)
            continue
    spoken_for = {c.driver for c in found}
    found += [Candidate(name, name) for name in catalogue.names() if name not in spoken_for]
    return tuple(found)
