"""The picture of the dashboard, and the courses that its charts are drawn from."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from benchtui.tui.courses import Courses
from benchtui.tui.draw.looks import LOOKS
from benchtui.tui.draw.window import Window

from . import odd_scenes, scenes
from .fake_live import FakeLive
from .golden import Shot
from .picture import svg


@pytest.mark.parametrize("look", LOOKS)
def test_the_picture_is_whole_xml_and_needs_no_font_for_blocks(look: str) -> None:
    """Blocks, lines and braille are shapes; what is written as text is letters and figures."""
    shot = Shot("x", scenes.asleep, (120, 36), scenes.b_plus, near=True, glyphs=LOOKS[look].glyphs)
    root = ElementTree.fromstring(svg(shot.canvas(), LOOKS[look]))
    texts = "".join(node.text or "" for node in root.iter("{http://www.w3.org/2000/svg}text"))
    assert "B+1" in texts
    assert not set(texts) & set("█▀▄▏▎▍▌▋▊▉│─╱⣤")


def test_a_hostile_name_stays_text_in_the_picture() -> None:
    """Markup characters are written as such."""
    shot = Shot("x", lambda: odd_scenes.hostile("<b>&"), (80, 24))
    root = ElementTree.fromstring(svg(shot.canvas()))
    assert any("<b>&" in (node.text or "") for node in root.iter())


def test_a_course_serves_two_draws_and_another_window_asks_anew() -> None:
    """Charts move at half the pace of the digits; a zoom is seen at once."""
    live = FakeLive([scenes.fault()], scenes.b_plus)
    courses = Courses(live)
    for _ in range(4):
        courses.next_draw()
        courses.of("B+1", Window(0, 1000, 0), 20)
    assert len(live.asked) == 2
    courses.of("B+1", Window(0, 500, 0), 20)
    assert len(live.asked) == 3
