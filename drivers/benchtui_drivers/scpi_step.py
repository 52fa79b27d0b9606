"""One thing that is sent to a SCPI meter, and what is to come back."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Step:
    """A command or a question."""

    text: str
    expects: str = ""
    """identity, error, function, values, or nothing."""
    after_configure: bool = False
    channels: tuple[int | None, ...] = ()
    """Where the values go."""


IDENTIFY = Step("*IDN?", "identity")
ASK_ERROR = Step("SYST:ERR?", "error")
ASK_REFUSED = Step("SYST:ERR?", "error", after_configure=True)
