"""Values out of a file that may come from anyone: of the kind that they must be, or refused."""

from __future__ import annotations

import math
from typing import Any

from benchtui.model.notes import plain

LATEST_NS = 1 << 62
"""No time on a timeline is as late as this (146 years), so that sums of two can be told."""


def number(given: Any) -> float:
    """A number that can be measured.

    Raises:
        ValueError, TypeError, OverflowError: it is none, or infinite.
    """
    value = float(given)
    if not math.isfinite(value):
        raise ValueError(f"{value} is no number that can be measured")
    return value


def text(given: Any) -> str:
    """A text as it stands. Raises TypeError."""
    if not isinstance(given, str):
        raise TypeError(f"{_shown(given)} stands where a text must be")
    return given


def plain_text(given: Any) -> str:
    """A text with nothing that a terminal would act on, and nothing cut off. Raises TypeError."""
    return plain(text(given), most=max(1, len(given)))


def whole(given: Any) -> int:
    """A whole number. Raises TypeError."""
    if type(given) is not int:
        raise TypeError(f"{_shown(given)} stands where a whole number must be")
    return given


def instant(given: Any) -> int:
    """A time on the timeline in nanoseconds. Raises TypeError, ValueError."""
    if not 0 <= whole(given) < LATEST_NS:
        raise ValueError(f"{given} ns is no time of a session")
    return int(given)


def _shown(given: Any) -> str:
    return "a blob" if isinstance(given, bytes) else plain(repr(given), 40)
