"""What stands beside each other in a row never runs together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtui.model.units import Unit
from benchtui.tui import format as fmt
from benchtui.tui.draw.far import draw_far, far_keys
from benchtui.tui.draw.glance import Glance
from benchtui.tui.draw.near import Chosen, draw_near, near_keys
from benchtui.watch.board import Board

from . import odd_scenes, scenes
from .golden import KEYS, LARGE, MIDDLE, SMALL


def near(board: Board, size: tuple[int, int], chosen: Chosen | None = None) -> list[str]:
    return draw_near(*size, Glance(board, scenes.say, keys=KEYS), chosen or Chosen(), scenes.nothing).lines()


def test_a_lamp_nobody_looked_at_says_so_once_and_names_its_key() -> None:
    """Word, key and age have room or are left out, at 120 columns too."""
    for word, age in (("not looked", None), ("lit", 12.0), ("lit", 7000.0), ("not looked", 7000.0)):
        board = odd_scenes.cold()
        rows = [
            replace(r, value=1.0, word=word, age_s=age, sign="?") if r.point == "pilot" else r
            for r in board.rows
        ]
        line = next(text for text in near(replace(board, rows=tuple(rows)), MIDDLE) if "pilot" in text)
        assert word in line
        assert "1: out" in line
        assert line.count("not looked") <= 1
        assert line.split(word)[1].startswith("  ") or word == "not looked"


@pytest.mark.parametrize("size", [SMALL, MIDDLE, LARGE], ids=lambda s: f"{s[0]}x{s[1]}")
def test_a_long_number_has_a_blank_before_it(size: tuple[int, int]) -> None:
    """`V6 cathode` gives way to `-0.0001 V`."""
    board = scenes.fault()
    rows = tuple(
        replace(r, value=-1e-4, level=-1e-4, step=1e-4, noise=1e-4) if r.point == "V6 cathode" else r
        for r in board.rows
    )
    board = replace(board, rows=rows, large=("B+1", "B+2", "screen", "mains"))
    for canvas in (
        draw_far(*size, Glance(board, scenes.say), scenes.nothing),
        draw_near(*size, Glance(board, scenes.say), Chosen(), scenes.nothing),
    ):
        line = next(text for text in canvas.lines() if "V6 cath" in text and " V " in text)
        assert " -0.0001 V" in line or "cathode  0.000 V" in line


def test_labels_of_the_chart_keep_off_the_words_of_the_table() -> None:
    """`not measured` is followed by a blank, however far the course went."""
    board = odd_scenes.negatives()
    far = replace(board.rows[0], value=322.1, level=322.1)
    rows = (far, *(replace(r, sign="", word="not measured", meter=None) for r in board.rows[1:]))
    course = scenes.b_plus_whole
    glance = Glance(replace(board, rows=rows, large=("bias",)), scenes.say)
    lines = draw_far(*MIDDLE, glance, course).lines()
    told = [line for line in lines if "not measured" in line[60:78]]
    assert told
    assert all(line[76:77] in ("", " ") for line in told)


@pytest.mark.parametrize("value", [-12.0, 180.0, None])
def test_a_band_keeps_its_decimals_whatever_is_read(value: float | None) -> None:
    """-13.2 to -10.8 V is never told as -13 to -11."""
    row = odd_scenes.plain_row("grid bias", Unit.V, value, low=-13.2, nominal=-12.0, high=-10.8)
    assert fmt.limits(row, fmt.far(row).step) == "-13.2..-10.8"


def test_a_label_is_rounded_to_its_room_or_left_out() -> None:
    """A part of a number is no number."""
    row = odd_scenes.plain_row("grid bias", Unit.V, -12.0, low=-13.2, nominal=-12.0, high=-10.8)
    assert fmt.label(row, -13.2, 25.0) == "-13.2"
    assert fmt.label(row, 322.1, 322.1, 4) == "322"
    assert fmt.label(row, -13200.0, 322.1, 4) == ""


@pytest.mark.parametrize("size", [SMALL, MIDDLE, LARGE], ids=lambda s: f"{s[0]}x{s[1]}")
def test_every_key_of_the_key_line_has_room(size: tuple[int, int]) -> None:
    """Quit stands last, also while several faults wait."""
    board = replace(scenes.fault(), acknowledged=frozenset())
    glance = Glance(board, scenes.say)
    for keys, draw in ((far_keys(glance), draw_far), (near_keys(glance, size[0]), None)):
        line = (draw(*size, glance, scenes.nothing).lines() if draw else near(board, size))[-1]
        for key, does, _ in keys:
            assert f"{key} {does}" in line, line
        assert line.rstrip().endswith("q quit")


def test_the_bar_of_a_wide_screen_has_room_for_the_name_of_the_set() -> None:
    """Beside `power-on not seen` too."""
    board = replace(
        scenes.fault(), set_name="Saltmarsh Twenty-Two", on_ns=None, on_seen=False, run_since_ns=scenes.S
    )
    lines = draw_far(*MIDDLE, Glance(board, scenes.say), scenes.nothing).lines()
    assert any("Saltmarsh Twenty-Two, power-on not seen, watched" in line for line in lines[:4])


def test_on_a_small_screen_the_state_is_shortened_before_the_name() -> None:
    """`on unseen` leaves room for a name that `power-on not seen` would cut."""
    board = replace(scenes.fault(), set_name="Saltmarsh Nine", on_ns=None, on_seen=False, run_since_ns=9)
    lines = draw_far(*SMALL, Glance(board, scenes.say), scenes.nothing).lines()
    assert any("Saltmarsh Nine, on unseen" in line for line in lines[:4])


def test_what_began_before_anybody_watched_is_of_no_run_0() -> None:
    """Where power-on was not seen, a finding from before it is told by the clock."""
    board = scenes.asleep()
    board = replace(
        board, findings=(scenes.finding(1, "settled", "heater", -2, None),), on_ns=None, on_seen=False,
        run_since_ns=scenes.ON_S * scenes.S,
    )  # fmt: skip
    assert not any("run 0" in line for line in near(board, MIDDLE))


def test_enter_opens_the_finding_that_is_marked_in_the_list() -> None:
    """First the one that waits; after j or k what was found on that point, or nothing."""
    board = scenes.asleep()
    marked = [line for line in near(board, MIDDLE)[28:] if line.startswith(">")]
    assert len(marked) == 1
    assert "pilot" in marked[0]
    chosen = Chosen("B+2").moved(board.rows, 1)
    assert chosen.point == "screen"
    assert "screen" in next(line for line in near(board, MIDDLE, chosen)[28:] if line.startswith(">"))
    nothing = replace(chosen, point="V6 cathode")
    assert not [line for line in near(board, MIDDLE, nothing)[28:] if line.startswith(">")]


def test_what_is_shown_of_a_long_list_is_told_in_lines() -> None:
    """The numbers of findings are another count."""
    assert any("lines 1-3 of 6" in line for line in near(scenes.asleep(), SMALL))
