"""Windows below 80x24: what is shown is whole, and what presses is shown."""

from __future__ import annotations

import pytest

from benchtui.tui import format as fmt
from benchtui.tui.draw.alarm import choose
from benchtui.tui.draw.far import draw_far
from benchtui.tui.draw.glance import Glance
from benchtui.tui.draw.table import afloat, is_unread
from benchtui.tui.draw.text import cut

from . import odd_scenes, scenes

SCENES = {
    "fault": scenes.fault, "warmup": scenes.warmup, "stale": odd_scenes.stale, "forty": odd_scenes.forty,
    "negatives": odd_scenes.negatives, "no_values": odd_scenes.no_values,
}  # fmt: skip
SIZES = [(14, 4), (18, 5), (20, 6), (24, 8), (30, 8), (40, 10), (79, 23)]


def lines(name: str, size: tuple[int, int]) -> list[str]:
    return draw_far(*size, Glance(SCENES[name](), scenes.say), scenes.nothing).lines()


@pytest.mark.parametrize("name", SCENES)
@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_a_number_stands_whole_with_its_unit_or_as_an_ellipsis(name: str, size: tuple[int, int]) -> None:
    """Never `28` for 283 V: the name gives way first."""
    drawn = lines(name, size)
    room = size[1] - 1 - (choose(SCENES[name]()) is not None)
    rows, hidden = afloat(SCENES[name]().rows, room)
    for row, line in zip(rows, drawn[1:], strict=False):
        number = fmt.DASHES if is_unread(row) else fmt.far(row).whole
        assert f" {number}" in line or "…" in line[4:], (row.point, line)
    assert bool(hidden) == any(f"{len(hidden)} more" in line for line in drawn)


@pytest.mark.parametrize("size", [s for s in SIZES if s[0] >= 20], ids=lambda s: f"{s[0]}x{s[1]}")
def test_a_lamp_that_is_out_has_a_row_of_its_own(size: tuple[int, int]) -> None:
    """It takes the place of a calm row, and what has no room is counted."""
    rows = lines("fault", size)[1:-1]
    assert any(line.split()[:2] == ["!!", "pilot"] for line in rows)


def test_the_bar_of_a_small_window_holds_a_whole_number() -> None:
    """`B+1 284 V` where `B+1 reads 284 V` has no room."""
    assert lines("fault", (20, 6))[0] == " LIVE  B+1 284 V"


def test_a_sentence_is_never_cut_inside_a_number() -> None:
    """The number goes as a whole, and with its unit: 1.25 kV is not 1.25."""
    assert cut("B+4 had 98.7 V", 11) == "B+4 had…"
    assert cut("B+4 had 98.7 V", 13) == "B+4 had…"
    assert cut("B+4 had 98.7 V", 14) == "B+4 had 98.7 V"
    assert cut("EHT 1.25 kV  B+2 NOT MEASURED", 10) == "EHT…"
    assert cut("EHT 1.25 kV  B+2 NOT MEASURED", 13) == "EHT 1.25 kV…"
    assert cut("EHT 1.25 Vac, 7 % up", 11) == "EHT…"
    assert cut("look at R41", 10) == "look at…"
    assert cut("pilot went out", 8) == "pilot w…"
    assert cut("anything", 0) == ""
