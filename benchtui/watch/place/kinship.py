"""How two points, or two moves, stand to each other: apart by the chart, alike by their size."""

from __future__ import annotations

from benchtui.chart.chart import Chart

from .track import Track

ALIKE = 0.4
"""Moves of at least this part of each other are one."""
CATHODE_V = 20.0
"""Fewer volts than this, and positive, may be a cathode's, which follows what feeds its valve. Common
practice, no source."""


def may_follow_unsaid(chart: Chart, track: Track) -> bool:
    """Whether a point may be a cathode's of which the chart does not say what feeds its valve."""
    level = track.point.nominal or (track.grains[-1].level if track.grains else 0.0)
    return 0.0 < level < CATHODE_V and not track.shows_mains and not chart.feeds(track.name)


def alike(one: float, other: float) -> bool:
    """Whether two moves, in parts of their points' levels, go the same way and are about as great."""
    return other != 0 and ALIKE <= one / other <= 1.0 / ALIKE


def are_apart(chart: Chart, one: str, other: str) -> bool:
    """Whether two points have nothing but the mains in common: neither feeds the other or shares a feed."""
    return not {one, *chart.feeds(one)} & {other, *chart.feeds(other)}
