"""A meter that held one reading and lets go of it: what it shows then did not happen then."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from benchtui.watch.eyes.manners import forbidden

from .track import Track

SEEN, FEWEST, RUN = 4000, 40, 8
"""So many readings are looked back on; so many just before the held ones tell how often the point repeats
itself, and so many must be held."""
TURNS, DIFFERENT = 6, 6
"""Before, it must have gone to and fro so often, over so many different readings: what only rose while it
warmed up, or lay between two counts, may be still since."""
MOST, CHANCE = 0.05, 1e-6
"""For a jump of up to this part of the level the repeats must be so unlikely."""
GREAT_MOST, GREAT_CHANCE = 0.2, 1e-9
"""For one of up to the first of these, as unlikely as a meter is called frozen, and it must go back to where
it stood before the reading was held. A greater one is no hidden drift. Common practice, no source."""


def lets_go(track: Track, start_ns: int, relative: float) -> bool:
    """Whether a move, in parts of the level, is a meter letting go of a reading that it had held."""
    if abs(relative) > GREAT_MOST:
        return False
    history = track.segment.history
    newest = history.values(start_ns - 1, RUN)
    if len(newest) < RUN or len(set(newest)) > 1:
        return False
    values = history.values(start_ns - 1, SEEN)
    held = _run(values)
    before = values[: len(values) - held][-FEWEST:]
    if len(before) < FEWEST:
        return False
    steps = [b - a for a, b in pairwise(before)]
    moved = [step for step in steps if step]
    turns = sum(a * b < 0 for a, b in pairwise(moved))
    if turns < TURNS or len(set(before)) < DIFFERENT:
        return False
    repeats = len(steps) - len(moved)
    if abs(relative) <= MOST:
        return held > forbidden((repeats + 1) / (len(before) + 1), CHANCE)
    back = history.values(start_ns, 1)[0]
    returns = min(before) <= back <= max(before)
    return returns and held > forbidden((repeats + 1) / (len(before) + 1), GREAT_CHANCE)


def _run(values: Sequence[float]) -> int:
    """How many of the newest are equal."""
    return next((k for k, value in enumerate(reversed(values)) if value != values[-1]), len(values))
