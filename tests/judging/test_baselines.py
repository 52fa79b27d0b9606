"""The general-purpose methods: each finds plain moves, and the table that they stand in."""

from __future__ import annotations

import numpy as np
import pytest

from .baseline_series import Array, Series, Wiring
from .baselines import GRIDS, MOVES, Move, moves, one, placed, row, settings_of
from .tally import by_kind, overall

NEEDS = {"change points (ruptures)": "ruptures", "streaming drift (river)": "river"}


def stretch(level_after: float) -> Series:
    """300 readings of 200 V, noise 0.1 V, 20 V lower from the 150th to the 179th, then at another level."""
    x: Array = np.asarray(200 + 0.1 * np.random.default_rng(7).standard_normal(300), dtype=np.float64)
    x[150:180] -= 20
    x[180:] += level_after - 200
    return Series("B+1", 0.5 * np.arange(300.0), x.round(1), 0.1, 0.5)


@pytest.mark.parametrize("name", sorted(GRIDS))
def test_every_method_sees_a_plain_move(name: str) -> None:
    """At some setting each method tells a dropout of 10 % as one dropout, and a step as one step."""
    if name in NEEDS:
        pytest.importorskip(NEEDS[name], reason="a library for comparison only")
    told = {True: False, False: False}
    for settings in settings_of(name):
        for returns in told:
            s = stretch(200 if returns else 180)
            found = list(moves(s, GRIDS[name][0](s, settings), settings["least"]))
            wanted = "dropout" if returns else "step"
            told[returns] |= [m.kind for m in found] == [wanted] and abs(found[0].start_s - 75) < 10
    assert told[False] or name.startswith("rolling"), "a step"
    assert told[True], "a dropout"


def test_what_hangs_on_a_feed_is_told_at_the_feed() -> None:
    """Points of one branch that fall together are told once, at the upper one; with the mains, as mains."""
    wiring = Wiring({"B+2": "B+1", "screen": "B+2"}, frozenset({"mains"}))
    fall = [Move(p, "dropout", 10.0 + k, 12.0, 11.0, 3.0) for k, p in enumerate(["screen", "B+2"])]
    assert [(s.kind, s.point) for s in placed(fall, wiring, 4)] == [("dropout", "B+2")]
    everything = [*fall, *(Move(p, "dropout", 10.0, 12.0, 11.0, 3.0) for p in ("B+1", "mains"))]
    assert [(s.kind, s.point) for s in placed(everything, wiring, 4)] == [("mains", None)]


def test_a_method_is_scored_like_ours() -> None:
    """A general method runs through the same cases and the same score."""
    settings = {"hold": 90.0, "least": 1.5, "width": 61, "percent": 3, "confirm": 2}
    cases = [one(seed, "percent of running median", settings) for seed in range(12)]
    figures = overall(by_kind(cases), MOVES)
    assert 0.3 < figures.f1 < 1
    assert f"{figures.f1:.3f}" in row("percent", cases)
