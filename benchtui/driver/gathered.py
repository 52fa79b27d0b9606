"""The numbers of many lines of one shape: digits gathered by numpy, exactly rounded."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Floats, Ints

from .recipe import Recipe, one_count

Bytes = NDArray[np.uint8]

_POWERS = np.array([float(f"1e{n}") for n in range(23)])
"""Exact in a double. A whole number below 2**53 times or over one of them is rounded once, so correctly
(Clinger 1990, "How to read floating point numbers accurately")."""
_LOWEST, _HIGHEST = -1400, 1400
_COUNTS = np.array([one_count(n) for n in range(_LOWEST, _HIGHEST)])
_MOST_DIGITS = 18


def read_alike(raw: Bytes, starts: Ints, recipe: Recipe) -> tuple[Floats, Floats]:
    """Values and resolutions of lines of one shape that start at `starts`: bit for bit as `recipe.read`."""
    n = len(starts)
    if not recipe.digits:
        return np.full(n, recipe.constant), np.zeros(n)
    if len(recipe.digits) > _MOST_DIGITS:
        return _by_text(raw, starts, recipe)
    mantissa = _whole(raw, starts, recipe.digits)
    if recipe.exponent_digits:
        written = _whole(raw, starts, recipe.exponent_digits)
        power = recipe.shift - recipe.part + (-written if recipe.exponent_negative else written)
        scale = _POWERS[np.minimum(np.abs(power), 22)]
        value = np.where(power < 0, mantissa / scale, mantissa * scale)
        hard = (np.abs(power) > 22) | (mantissa >= 1 << 53)
        resolution = _COUNTS[power - _LOWEST]
    else:
        power_of_all = recipe.shift - recipe.part
        if abs(power_of_all) > 22:
            return _by_text(raw, starts, recipe)
        scale_of_all = _POWERS[abs(power_of_all)]
        value = mantissa / scale_of_all if power_of_all < 0 else mantissa * scale_of_all
        hard = mantissa >= 1 << 53
        resolution = np.full(n, _COUNTS[power_of_all - _LOWEST])
    if recipe.negative != recipe.flip:
        value = -value
    if hard.any():
        value[hard], resolution[hard] = _by_text(raw, starts[hard], recipe)
    return value, resolution


def _whole(raw: Bytes, starts: Ints, digits: tuple[int, ...]) -> Ints:
    """The whole numbers that the digits at these offsets make."""
    total = raw[starts + digits[0]].astype(np.int64)
    for offset in digits[1:]:
        total *= 10
        total += raw[starts + offset]
    return total - int("1" * len(digits)) * 0x30


def _by_text(raw: Bytes, starts: Ints, recipe: Recipe) -> tuple[Floats, Floats]:
    """One by one, where a double cannot hold the digits exactly."""
    read = [recipe.read(raw[s : s + recipe.span[1]].tobytes()) for s in starts.tolist()]
    return np.array([r[0] for r in read]), np.array([r[1] for r in read])
