"""The course of one point over a stretch of time, thinned for a chart."""

from __future__ import annotations

from dataclasses import dataclass

from .readings import Bools, Floats
from .units import Unit


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """Least and greatest value of each of equal columns of time; all arrays of one length."""

    start_ns: int
    end_ns: int
    low: Floats
    """NaN where the column holds no reading with a value."""
    high: Floats
    gap: Bools
    """True where there were no readings though they were due: drawn as a gap, never joined across."""
    unit: Unit
