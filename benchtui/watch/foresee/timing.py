"""When a warming point will have settled, over all shapes and levels that it may have.

Settled is what is within 2 % (or three counts) of the settled level and stays there: the load's way and the
slow tail after it, both counted.
"""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Bools, Floats, Ints

from .course import Seen
from .mixture import of_points
from .shapes import Courses, conduction
from .solving import TAIL, TAIL_LEAST, TAIL_SD, UNSURE, Fits

HEAVIEST = 400
"""So many possibilities are asked when they settle."""
NODES = ((-(3.0**0.5), 1 / 6), (0.0, 2 / 3), (3.0**0.5, 1 / 6))
"""Where a normal distribution is asked, and with what weights (Gauss-Hermite, three points)."""
REST, REST_LEAST = 0.4, 0.2
"""How unsure the logarithm of the time still to go is half way, and otherwise, the true shape being none of
ours."""
SETTLED = 0.02
"""So near to the settled level counts as settled."""
TAIL_TAKES = (0.35, 1.5)
"""What part of that is left to the load's way: at least, a tail being on its side; at most, on the other."""
READ = 0.01
"""How well a reading tells how much of the way is left, whatever its noise."""
WOKEN, GONE = 0.97, 0.001
"""Parts of the way left: with more no valve is awake yet, with less there is nothing more to tell."""


def times(seen: Seen, points: Floats, fits: Fits, gone: Floats, sd: Floats, weight: Floats) -> list[float]:
    """The time told, between its 95 % bounds: seconds since power-on.

    The bounds allow for a tail that is longer or shorter than expected; what is told between them does not: a
    creep that nobody has seen yet is no part of settling.
    """
    heavy = np.argpartition(weight.ravel(), -HEAVIEST)[-HEAVIEST:]
    model, level, shape = np.unravel_index(np.sort(heavy), weight.shape)
    at = (model, level, shape)
    few, row = np.unique(shape, return_inverse=True)
    courses, from_s, tail_s, gone = Courses(points[few]), fits.from_s[shape], fits.tail_s[model], gone[shape]
    then = 1.0 - conduction(points[few], seen.t[-1:])[:, 0][row] if len(seen.t) else np.ones(len(row))
    begun = seen.now_s > from_s
    creep, size = np.where(begun, fits.tail[at], 0.0), np.where(begun, fits.tail[at], TAIL * seen.way)
    unsure_tail = np.minimum(sd[at], TAIL_LEAST + TAIL_SD * abs(seen.way))
    unsure_rest = REST_LEAST + (REST - REST_LEAST) * 4.0 * gone * (1.0 - gone)
    by_now = fits.tail[at] * np.exp(-np.maximum(seen.now_s - from_s, 0.0) / tail_s)
    likely: list[Floats] = []
    whens: list[Floats] = []
    weights: list[Floats] = []
    for off, part in NODES:
        settled, tail = fits.settled[at] + off * sd[at], fits.tail[at] - off * unsure_tail
        near = np.maximum(SETTLED * np.abs(settled), seen.near)
        way = fits.top[at] - settled
        late = _late(seen, courses, row, then, settled, way, by_now)
        under = np.clip(near - size * np.sign(way), TAIL_TAKES[0] * near, TAIL_TAKES[1] * near)
        there, *past = _came(seen, settled, near)
        for rests, within, slow in ((whens, near, tail), (likely, under, creep)):
            left = np.minimum(within / np.maximum(np.abs(way), 1e-9), 1.0)
            tailing = from_s + tail_s * np.log(np.maximum(np.abs(slow) / near, 1e-9))
            rest = np.maximum(courses.reaches(row, left) + late, tailing) - seen.now_s
            for (blur, _), came in zip(NODES, past, strict=True):
                still = np.where(rest > 0.0, rest * np.exp(blur * unsure_rest), rest)
                rests.append(np.where(there, came - seen.now_s, still))
        weights += [part * share * weight[at] for _, share in NODES]
    shares = np.concatenate(weights)
    low, high = of_points(shares, np.concatenate(whens), (0.025, 0.975))
    (middle,) = of_points(shares, np.concatenate(likely), (0.5,))
    return [seen.now_s + x for x in (low, min(max(middle, low), high), high)]


def _came(seen: Seen, settled: Floats, near: Floats) -> tuple[Bools | Floats, ...]:
    """Whether the newest row is as near as that to each level; when it came there to stay: at the earliest,
    probably, at the latest."""
    if not len(seen.t):
        nothing = np.zeros(len(settled))
        return nothing > 0.0, nothing, nothing, nothing
    t, y = (np.concatenate((b, a)) for b, a in zip(seen.before, (seen.t, seen.y), strict=True))
    off = np.abs(y[:, None] - settled)
    far = off > near
    after = np.where(far.any(axis=0), len(t) - np.argmax(far[::-1], axis=0), 0)
    to = np.minimum(after, len(t) - 1)
    of, each = np.maximum(to - 1, 0), np.arange(len(settled))
    begins = np.where(after > 0, t[of], 0.0)
    part = np.where(after > 0, (off[of, each] - near) / np.maximum(off[of, each] - off[to, each], 1e-9), 0.5)
    probably = begins + np.clip(part, 0.0, 1.0) * (t[to] - begins)
    return ~far[-1], begins, probably, t[to]


def _late(
    seen: Seen, courses: Courses, row: Ints, then: Floats, settled: Floats, way: Floats, tail: Floats
) -> Floats:
    """How much later than a shape has it the newest reading stands on it, seconds; `then`: what it has left.

    No shape is quite right: what is still to come is counted from what was read, not from what the shape
    makes of the hour.
    """
    if not len(seen.t):
        return np.zeros(len(row))
    age, y, variance = float(seen.t[-1]), float(seen.y[-1]), float(seen.variance[-1])
    way = np.where(np.abs(way) > 1e-6, way, 1e-6)
    read = np.clip((y - settled - tail * (1.0 - then)) / way, 0.0, 1.0)
    of_shape = (UNSURE * then) ** 2 / np.maximum(1.0 - then, 0.01)
    of_reading = variance / np.maximum(way * way, 1e-8) + READ**2
    left = (then * of_reading + read * of_shape) / (of_shape + of_reading)
    told = (then > GONE) & (np.minimum(then, read) < WOKEN)
    stands = courses.reaches(row, np.clip(left, GONE, 1.0 - GONE))
    return np.where(told, age - stands, 0.0)
