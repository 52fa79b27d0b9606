"""Small parts: leads, texts of findings, strokes of the bell, looks, letters."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtui.model.findings import SEVERITY
from benchtui.model.readings import Channel
from benchtui.tui import leads
from benchtui.tui.draw import glyphs, letters, listing
from benchtui.tui.draw.glance import Glance
from benchtui.tui.draw.looks import DARK, LETTERS, LIGHT, LOOKS, PLAIN, SIXTEEN, Look, choose
from benchtui.tui.draw.near import Chosen, draw_near
from benchtui.tui.draw.paint import Paint
from benchtui.tui.sayings import Sayings, shortened
from benchtui.tui.sounds import strokes
from benchtui.watch.board import Board

from . import scenes
from .fake_live import opened

CHANNELS = (Channel("A", "A"), Channel("B", "B"), Channel("pilot", "eye", eye=True))


def measured(meters: dict[str, str]) -> Board:
    """The scenes' chart with meters on some points."""
    rows = tuple(scenes.row(n, 1.0, meter=meters.get(n)) for n in scenes.POINTS)
    return Board(rows=rows)


def test_the_next_point_is_the_next_of_the_chart_that_no_meter_is_on() -> None:
    """Round at the end; points of the eye, of other meters and of another unit are passed over."""
    board = measured({"B+1": "A", "B+2": "B"})
    step = leads.next_point(board, CHANNELS, 0)
    assert step is not None
    assert step.point == "screen"
    board = measured({"regulator": "A", "B+1": "B"})
    step = leads.next_point(board, CHANNELS, 0)
    assert step is not None
    assert step.point == "B+2"


def test_a_lead_on_nothing_takes_the_first_free_point() -> None:
    """And where every point has a meter there is none."""
    board = measured({"B+1": "B"})
    step = leads.next_point(board, CHANNELS, 0)
    assert step is not None
    assert step.point == "B+2"
    assert leads.next_point(measured(dict.fromkeys(scenes.POINTS, "B")), CHANNELS, 0) is None


def test_the_eye_has_no_lead() -> None:
    """Its channel is never offered."""
    assert leads.meters(CHANNELS) == [0, 1]


def test_a_board_that_names_the_channel_is_believed() -> None:
    """Two channels of one meter are told apart by number."""
    both = (Channel("A:volts", "A"), Channel("A:amps", "A"))
    row = scenes.row("B+1", 1.0, meter="A")
    assert leads.channel_of(replace(row, channel=1), both) == 1
    assert leads.channel_of(row, both) == 0


def test_a_text_beside_its_point_and_kind_does_not_repeat_them() -> None:
    """Name and kind go from the beginning; nothing else does."""
    found = scenes.finding(1, "fed_but_out", "pilot", 1, None)
    assert shortened("pilot was fed but out: B+4 had 93 V", found) == "B+4 had 93 V"
    gap = scenes.finding(2, "gap", "B+1", 1, None)
    assert shortened("B+1: no readings for 11 s", gap) == "no readings for 11 s"
    assert shortened("Power on, run 2", scenes.finding(3, "power_on", None, 0, 0)) == "Power on, run 2"


def test_a_sentence_is_made_once_for_each_change() -> None:
    """Amended, it is made again."""
    made: list[int] = []
    sayings = Sayings(lambda f: made.append(f.as_of_ns) or "x")  # type: ignore[func-returns-value]
    found = scenes.finding(1, "dropout", "B+1", 1, None)
    for each in (found, found, replace(found, as_of_ns=found.as_of_ns + 1)):
        sayings.whole(each)
    assert len(made) == 2


@pytest.mark.parametrize(
    ("kind", "count"), [("limit", 3), ("dropout", 2), ("gap", 1), ("creep", 1), ("settled", 0)]
)
def test_strokes_tell_what_was_found(kind: str, count: int) -> None:
    """Three for a rating, two for another fault, one for a warning or a meter, none for news."""
    assert strokes([opened(scenes.finding(1, kind, "B+1", 1, None))]) == count


def test_only_the_gravest_of_a_moment_is_rung_and_a_close_is_silent() -> None:
    """Ten findings at once ring once."""
    events = [opened(scenes.finding(n, k, "B+1", 1, None)) for n, k in enumerate(("gap", "limit", "dropout"))]
    assert strokes(events) == 3
    assert strokes([replace(e, act="close") for e in events]) == 0


def test_the_list_has_what_was_wrong_first_and_numbers_only_that() -> None:
    """Newest first; meters and news after it, without a number."""
    board = scenes.asleep()
    order = [fold.shown for fold in listing.ordered(board)]
    assert [f.kind for f in order] == ["fed_but_out", "outside", "dropout", "gap", "settled", "power_on"]
    assert listing.numbers(board) == {1: 1, 2: 2, 4: 3}
    assert {SEVERITY[f.kind] for f in order[:3]} == {"fault"}


def test_a_finding_of_an_earlier_run_is_told_by_its_run() -> None:
    """Its time of that run would be read as one of this; from an hour on, hours and minutes."""
    board = scenes.asleep()
    runs = (scenes.finding(7, "power_on", None, -500, -500), scenes.finding(8, "dropout", "B+1", -400, -399))
    board = replace(board, at_ns=board.at_ns + 4000 * scenes.S)
    board = replace(board, findings=(*runs, *board.findings, scenes.finding(9, "dropout", "B+2", 3847, 3848)))
    lines = draw_near(120, 36, Glance(board, scenes.say), Chosen(), scenes.nothing).lines()
    told = {line[7:28].split()[0]: line[29:35].strip() for line in lines[29:34]}
    assert told["B+2"] == "1h04"
    assert told["pilot"] == "4:07"
    last = draw_near(120, 60, Glance(board, scenes.say), Chosen(), scenes.nothing).lines()
    assert any("B+1      dropout      run 1" in line for line in last)


def luminance(colour: str) -> float:
    """Relative luminance as W3C's WCAG 2.2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    """Contrast ratio as W3C's WCAG 2.2 defines it."""
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("look", [DARK, LIGHT], ids=lambda look: look.name)
def test_every_text_has_the_contrast_that_wcag_asks_for(look: Look) -> None:
    """4.5 : 1 or more, success criterion 1.4.3 of WCAG 2.2; for ink on its bar as well as on the ground."""
    pairs = [(role, "ground") for role in ("ink", "quiet", "moving", "fault_text")]
    pairs += [("live_ink", "live"), ("fault_ink", "fault")]
    for ink, ground in pairs:
        assert contrast(look.colours[ink], look.colours[ground]) >= 4.5, (ink, ground)


def test_live_and_fault_differ_without_any_colour() -> None:
    """In the dark look one bar is much lighter than the other, by luminance alone."""
    assert luminance(DARK.colours["live"]) > 2.5 * luminance(DARK.colours["fault"])


def test_no_number_is_green() -> None:
    """No palette has a colour whose green is its greatest part by far."""
    for look in (DARK, LIGHT):
        for role, colour in look.colours.items():
            red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
            assert green <= max(red, blue) + 8, role


def test_every_paint_has_a_style_in_every_look() -> None:
    """Any role may be ink or ground; looks without colour reverse the bars."""
    roles = list(DARK.colours)
    for look in LOOKS.values():
        for ink in roles:
            for ground in roles:
                look.style(Paint(ink, ground, True))
    assert PLAIN.style(Paint("live_ink", "live")).reverse
    assert not PLAIN.style(Paint("ink")).reverse


def test_the_look_is_what_the_person_wished_as_far_as_the_terminal_goes() -> None:
    """NO_COLOR, sixteen colours and an encoding without blocks each have a look of their own."""
    assert choose("light", False, "utf-8", "truecolor") is LIGHT
    assert choose("no such look", False, "UTF-8", "256") is DARK
    assert choose("dark", True, "utf-8", "truecolor") is PLAIN
    assert choose("dark", False, "utf-8", "standard") is SIXTEEN
    assert choose("dark", False, "ascii", "truecolor") is LETTERS
    assert choose("dark", False, None, None) is LETTERS


def test_every_digit_and_sign_has_its_height() -> None:
    """Ten pixels in halves of a cell, five rows of whole cells."""
    for table, high in (
        (glyphs.DIGITS, 10),
        (glyphs.SIGNS, 10),
        (glyphs.ASCII_DIGITS, 5),
        (glyphs.ASCII_SIGNS, 5),
    ):
        for name, glyph in table.items():
            assert len(glyph.rows) == high, name
            assert all(row < 1 << glyph.width for row in glyph.rows), name


def test_no_two_digits_letters_or_signs_look_alike() -> None:
    """Every bitmap of a font is its own."""
    for table in (glyphs.DIGITS, glyphs.SIGNS, glyphs.ASCII_DIGITS):
        assert len({(g.width, g.rows) for g in table.values()}) == len(table)
    shapes: dict[object, list[str]] = {}
    for name, glyph in letters.LETTERS.items():
        shapes.setdefault((glyph.width, glyph.rows), []).append(name)
    assert [names for names in shapes.values() if len(names) > 1] == [["O", "0"]]


def test_what_no_glyph_shows_is_left_out_of_block_letters() -> None:
    """The rest of the word stays."""
    assert letters.spelt("B+1 真") == letters.spelt("B+1 ")
    assert letters.spelt("b+1") == letters.spelt("B+1")
