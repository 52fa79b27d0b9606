"""Small moves that come as the programme does: a station, or loud after soft, draws on what feeds it."""

from __future__ import annotations

import numpy as np

from .desk import Desk
from .track import Track

MOST = 0.03
"""Points that do not move with the programme themselves go with it by no more. Common practice, no source."""
SPAN_NS, FEWEST, ENOUGH = 2_500_000_000, 3, 2
"""The programme is held against itself over so long before and after, by so many readings at least before and
after."""
WAIT_NS = 1_000_000_000
"""A meter that averages shows so soon that it changes."""
CHANGED, SCATTERS = 0.04, 4.0
"""It has changed by so much of its level, and by so many times what it scattered by before."""


def goes_with_it(desk: Desk, part: float, before_ns: int, start_ns: int) -> bool | None:
    """Whether a point that went by a part between two instants only went with the programme, which changed
    then; None where a meter on a programme point has yet to say."""
    if abs(part) > MOST:
        return False
    told = [_changed(t, before_ns, start_ns, desk.now_ns) for t in desk.tracks.values() if t.point.moves]
    if any(told):
        return True
    return None if None in told else False


def _changed(track: Track, before_ns: int, start_ns: int, now_ns: int) -> bool | None:
    history, period_ns = track.segment.history, int(1e9 * track.period_s)
    if not track.unit.is_voltage or not track.fresh(now_ns):
        return False
    span_ns = max(SPAN_NS, (FEWEST + 1) * period_ns)
    until_ns = start_ns + period_ns + span_ns
    _, before = history.between(before_ns - period_ns - span_ns, before_ns - period_ns)
    _, after = history.between(start_ns + period_ns, min(until_ns, now_ns))
    if len(before) < FEWEST:
        return False
    if len(after) < ENOUGH:
        return None if now_ns < until_ns else False
    many = max(FEWEST, round(SPAN_NS / max(period_ns, 1)))
    before = before[-many:]
    a, b = float(np.median(before)), float(np.median(after[-FEWEST:]))
    scatter = max(1.48 * float(np.median(np.abs(before - a))), track.step)
    changed = abs(b - a) > max(CHANGED * max(abs(a), abs(b)), SCATTERS * scatter)
    return True if changed else None if now_ns < start_ns + period_ns + WAIT_NS else False
