"""Whole screens, cell by cell, against text that was checked by eye."""

from __future__ import annotations

import pytest

from benchtui.tui.draw.far import draw_far
from benchtui.tui.draw.glance import Glance
from benchtui.tui.draw.paint import Paint

from . import scenes
from .golden import SHOTS, SMALL, Shot


@pytest.mark.parametrize("shot", SHOTS, ids=lambda s: s.file.stem)
def test_a_screen_is_drawn_as_it_was_when_a_person_looked(shot: Shot) -> None:
    """Every cell of the screen equals its golden; `python -m tests.tui.golden` writes new ones."""
    assert shot.text() == shot.file.read_text(encoding="utf-8")


def _cells_in(paint_ground: str) -> set[tuple[int, int]]:
    canvas = draw_far(*SMALL, Glance(scenes.fault(), scenes.say), scenes.nothing)
    paints = [(y, x, p) for y, row in enumerate(canvas.paints) for x, p in enumerate(row)]
    return {(y, x) for y, x, p in paints if paint_ground in (p.ink, p.ground)}


def test_only_the_live_bar_has_the_live_colour() -> None:
    """The colour of LIVE covers rows 0 to 3 from edge to edge and is nowhere else."""
    cells = _cells_in("live")
    assert {y for y, _ in cells} == {0, 1, 2, 3}
    assert {x for y, x in cells if y == 3} == set(range(80))


def test_only_what_is_unacknowledged_is_reversed_in_the_fault_colour() -> None:
    """The fault's ground is the bottom bar, and sign and name of the pilot; the screen is acknowledged."""
    cells = _cells_in("fault")
    assert {y for y, _ in cells} == {15, 19, 20, 21, 22}
    assert {x for y, x in cells if y == 15} == set(range(1, 16))


def test_an_acknowledged_fault_keeps_its_signs_in_fault_text() -> None:
    """Once acknowledged, sign, name and word still stand out, by sign and word and not by colour alone."""
    canvas = draw_far(*SMALL, Glance(scenes.fault(), scenes.say), scenes.nothing)
    assert "".join(canvas.chars[12][2:11]) == "!! screen"
    assert "".join(canvas.chars[12][64:72]) == "out, low"
    assert canvas.paints[12][2] == Paint("fault_text", bold=True)
