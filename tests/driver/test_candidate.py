"""What an unknown meter can be tried as: what every package names, and every driver that names nothing."""

from __future__ import annotations

from importlib.metadata import EntryPoint

import pytest

from benchtui.driver import candidate, catalogue
from benchtui.driver.candidate import Candidate, candidates


def fails() -> tuple[Candidate, ...]:
    """A stranger's function that is broken."""
    raise RuntimeError


def half_right() -> list[object]:
    """A stranger's function that gives anything."""
    return [Candidate("mine", "my meter"), "no candidate", None]


def test_the_built_in_formats_come_before_text_lines() -> None:
    """A framed format is more particular than a number a line: it is named first where both fit."""
    found = [c.driver for c in candidates()]
    assert {"frames", "lines", "scpi"} <= set(found)
    assert found.index("lines") > max(n for n, driver in enumerate(found) if driver == "frames")


def test_a_broken_package_costs_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    """What it gives in vain is left out; a driver without candidates is tried as it is."""
    points = [
        EntryPoint(name, f"{__name__}:{function}", candidate.GROUP)
        for name, function in (("a", "fails"), ("b", "half_right"), ("c", "is_not_there"))
    ]
    monkeypatch.setattr(candidate, "entry_points", lambda group: points)
    monkeypatch.setattr(catalogue, "names", lambda: ("mine", "other"))
    assert candidates() == (Candidate("mine", "my meter"), Candidate("other", "other"))
