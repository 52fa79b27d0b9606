"""What is done to the set from outside: power, the variable transformer, taps, a part replaced."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that a person does."""

    at_s: float
    what: str
    """on, off, variac, tap or replace."""
    note: str = ""
    """What they would write down with it."""
    value: float = 0.0
    """For variac: the part of the mains voltage, 0 to 1.1."""
    name: str = ""
    """For replace: the fault whose part a good one replaces."""


def once(on_s: float = 2.0, off_s: float | None = None) -> tuple[Act, ...]:
    """Power on, and off again if asked."""
    on = Act(on_s, "on")
    return (on,) if off_s is None else (on, Act(off_s, "off"))


def bring_up(on_s: float = 2.0, step: float = 10 / 230, every_s: float = 60.0) -> tuple[Act, ...]:
    """A slow bring-up on a variable transformer, in equal steps, from nothing to the whole."""
    steps = round(1 / step)
    rises = [Act(on_s + i * every_s, "variac", value=min(1.0, (i + 1) * step)) for i in range(steps)]
    return (Act(0.0, "variac"), Act(on_s, "on"), *rises)
