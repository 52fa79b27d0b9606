"""The person's own settings, as a record."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Settings:
    """What the person chose. Everything has a default."""

    warn_above: float = 30.0
    """Volts, DC or AC, above which a point counts as live. 30 V is common practice; 50 V is the limit of
    29 CFR 1910.303(g)(2)(i)."""
    false_alarms_per_h: float = 0.01
    """Wished false alarms of one channel, all fault watchers together, per hour: 1 in 100 h."""
    sound: bool = True
    look: str = "dark"
    """dark, light, sixteen, plain or ascii."""
    text: str = ""
    """The TOML that gives these settings: as written, or written anew where the command line changed them; a
    session carries it."""
