"""From when on a course tells of the load: not while the rectifier itself still warms up."""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Floats

CALM, CALM_LATE = 0.04, 0.08
"""The rise is over where the course rises this much slower than at its steepest; where it rose late."""
EARLY_S = 8.0
"""A rectifier that leads the load has risen by this age; what rises later rises with the load."""
FALLEN, UNREAD_S = 0.05, 3.0
"""What has fallen by so much (part of the scale) did not rise with the load; nor is it known when something
rose that was not read for so long."""
CHARGES_S, FULL = 3.0, 0.003
"""So long a reservoir still charges after its steepest rise; it is full so near (part of the scale) to its
highest. Only what comes then tells of the load, which takes it down."""
NOTHING = 0.15
"""Part of the scale below which a point reads nothing yet."""


def tells(t: Floats, y: Floats, age_s: float, leads: bool, small: bool) -> tuple[int, bool]:
    """The first bin that tells of the load, and whether the point rises from nothing with the load.

    `t` ages, `y` parts of the scale. `leads`: the rectifier is up before the load valves conduct; else it
    rises beside them, and until that is over the whole counts as one rise. `small`: the point reads little
    beside the supplies, as a bias resistor does.
    """
    if not len(t):
        return 0, small or not leads
    slope = np.diff(np.concatenate(([0.0], y))) / np.maximum(np.diff(np.concatenate(([0.0], t))), 1e-3)
    steepest = int(np.argmax(slope))
    after = slice(steepest + 1, None)
    calm_at = np.where(t[after] > EARLY_S, CALM_LATE, CALM)
    calm = np.flatnonzero((slope[after] < calm_at * slope[steepest]) & (y[after] > 2.0 * NOTHING))
    top = steepest + 1 + int(calm[0]) if len(calm) else len(t)
    late = (top == len(t) or t[top] > EARLY_S) and y[0] < NOTHING and y.max() - y[-1] < FALLEN
    if late and (small or (not leads and top == len(t))):
        return 0, True
    unread_s = t[steepest] - t[steepest - 1] if steepest else t[0]
    rose_late = t[steepest] > EARLY_S and unread_s < UNREAD_S
    if leads and late and age_s > 0.75 * EARLY_S and (y.max() < NOTHING or rose_late):
        return 0, True
    if leads and top < len(t):
        early = y[: int(np.searchsorted(t, max(EARLY_S, t[top] + CHARGES_S)))]
        top += int(np.argmax(y[top:] >= early.max(initial=0.0) - FULL))
    return top, False
