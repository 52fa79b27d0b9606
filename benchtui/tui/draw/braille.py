"""A course as braille: two dots across and four down in a cell, from numpy, no loop over readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchtui.model.course import Course
from benchtui.model.readings import Bools, Floats

_WEIGHTS = np.array([[1, 8], [2, 16], [4, 32], [64, 128]], dtype=np.int64)
THICK = 2
"""Dots a trace is thick."""


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """A trace in cells."""

    codes: NDArray[np.int64]
    """Rows x columns: the pattern of each cell, 0 where nothing is drawn."""
    gaps: Bools
    """Columns to be hatched."""


def trace(course: Course, high: Floats, low: Floats, rows: int) -> Trace:
    """Cells of a course whose greatest and least values stand at dots `high` and `low`, counted from the top.

    One entry a dot column. Columns without a reading are bridged if no gap lies between their neighbours;
    a gap is never joined across.
    """
    dots = 4 * rows
    upper, lower, valid = _bridged(high, low, course.gap)
    top = np.clip(np.floor(upper), 0, dots - THICK)
    foot = np.clip(np.floor(lower), 0, dots - 1)
    foot = np.maximum(foot, top + THICK - 1)
    slim = foot - top <= THICK
    _joined(top, foot, valid)
    lines = np.arange(dots)[:, None]
    mask = (lines >= top) & (lines <= foot) & valid
    mask[:, 1:] |= mask[:, :-1] & slim[:-1] & valid[1:]
    columns = mask.shape[1] // 2
    cells = mask[:, : 2 * columns].reshape(rows, 4, columns, 2).transpose(0, 2, 1, 3)
    codes = (cells * _WEIGHTS).sum(axis=(2, 3))
    gaps = _hatched(course.gap[: 2 * columns], valid[: 2 * columns])
    codes[:, gaps] = 0
    return Trace(codes, gaps)


def _hatched(gap: Bools, valid: Bools) -> Bools:
    """The cells of gaps: those without a reading, and for a shorter gap one cell all the same."""
    pairs = gap.reshape(-1, 2)
    read = valid.reshape(-1, 2).any(axis=1)
    cells: Bools = np.logical_and(pairs.any(axis=1), ~read)
    edges = np.diff(np.concatenate(([False], gap, [False])).astype(np.int8))
    for first, last in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1, strict=True):
        if not cells[first // 2 : last // 2 + 1].any():
            cells[last // 2] = True
    return cells


def _bridged(high: Floats, low: Floats, gap: Bools) -> tuple[Floats, Floats, Bools]:
    """Columns without readings filled in between their neighbours, except across a gap."""
    known = np.isfinite(high) & np.isfinite(low) & ~gap
    at = np.flatnonzero(known)
    if len(at) == 0:
        zeros = np.zeros_like(high)
        return zeros, zeros, known
    every = np.arange(len(high))
    before = np.maximum.accumulate(np.where(known, every, -1))
    after = np.minimum.accumulate(np.where(known, every, len(high))[::-1])[::-1]
    gaps = np.concatenate(([0], np.cumsum(gap)))
    inside = (before >= 0) & (after < len(high))
    whole = inside & (gaps[np.minimum(after, len(high) - 1)] == gaps[np.maximum(before, 0)])
    return np.interp(every, at, high[at]), np.interp(every, at, low[at]), known | whole


def _joined(top: Floats, foot: Floats, valid: Bools) -> None:
    """Stretches each column up or down to its neighbour on the left, in place."""
    pairs = valid[1:] & valid[:-1]
    was_top, was_foot = top[:-1].copy(), foot[:-1].copy()
    rises = pairs & (was_top > foot[1:] + 1)
    falls = pairs & (was_foot < top[1:] - 1)
    foot[1:][rises] = was_top[rises] - 1
    top[1:][falls] = was_foot[falls] + 1
