"""The one place where an increasing or decreasing function is solved for its argument."""

from __future__ import annotations

from collections.abc import Callable


def solve(f: Callable[[float], float], low: float, high: float, *, steps: int = 200) -> float:
    """The place between `low` and `high` where `f` changes sign, to the last digits of a float.

    Bisection with a secant trial in each round (the "Illinois" form of false position, Dowell and Jarratt
    1971), so that it neither stalls nor leaves the bracket. A zero at an end is given as that end.
    Raises ValueError if `f` has the same sign at both ends. Cost: 10-60 calls of `f`.
    """
    f_low, f_high = f(low), f(high)
    if f_low == 0.0:
        return low
    if f_high == 0.0:
        return high
    if (f_low < 0.0) == (f_high < 0.0):
        raise ValueError(f"no change of sign between {low!r} and {high!r}: {f_low!r}, {f_high!r}")
    side = 0
    for step in range(steps):
        width = high - low
        secant = low - f_low * (width / (f_high - f_low))
        middle = low + 0.5 * width
        trial = middle if step % 3 == 2 or not low < secant < high else secant
        if not low < trial < high:
            break
        value = f(trial)
        if value == 0.0:
            return trial
        if (value < 0.0) == (f_low < 0.0):
            low, f_low = trial, value
            f_high = 0.5 * f_high if side < 0 else f_high
            side = -1
        else:
            high, f_high = trial, value
            f_low = 0.5 * f_low if side > 0 else f_low
            side = 1
        if high - low <= 2e-16 * max(abs(low), abs(high)):
            break
    return low + 0.5 * (high - low)


def bracket_up(f: Callable[[float], float], start: float, *, factor: float = 2.0) -> float:
    """The first of start, start*factor, start*factor**2, ... where `f` is no longer negative.

    Raises ValueError when 1e300 is passed: `f` never gets there.
    """
    x = start
    while f(x) < 0.0:
        x *= factor
        if x > 1e300:
            raise ValueError(f"no zero above {start!r}")
    return x
