"""What happens to the set from outside, in time order: power, the variable transformer, taps, meters."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that a person does."""

    at_s: float
    what: str
    """on, off, variac, tap or replace; a `note` with it is what they would write down."""
    note: str = ""
    value: float = 0.0
    """For variac: the part of the mains voltage, 0 to 1.1."""
    name: str = ""
    """For replace: the fault whose part is replaced by a good one."""


def once(on_s: float = 2.0, off_s: float | None = None) -> tuple[Act, ...]:
    """Power on, and off again if asked."""
    acts = [Act(on_s, "on")]
    if off_s is not None:
        acts.append(Act(off_s, "off"))
    return tuple(acts)


def bring_up(on_s: float = 2.0, step: float = 10 / 230, every_s: float = 60.0) -> tuple[Act, ...]:
    """A slow bring-up on a variable transformer, in equal steps."""
    acts = [Act(0.0, "variac"), Act(on_s, "on")]
    n = round(1 / step)
    acts += [Act(on_s + 1 + i * every_s, "variac", value=min(1.0, (i + 1) * step)) for i in range(n)]
    return tuple(acts)
