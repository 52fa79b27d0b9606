"""Text that comes from meters, files and people."""

from __future__ import annotations

import unicodedata

from hypothesis import example, given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtui.tui.draw.canvas import Canvas
from benchtui.tui.draw.looks import LETTERS
from benchtui.tui.draw.strips import strip
from benchtui.tui.draw.text import cells, clip, width, wrap

from .odd_scenes import HOSTILE


@given(st.text(max_size=60), st.integers(0, 30))
@example("\x1b[31m", 5)
@example("真空管", 2)
@example("e\u0301\u0302\u0303\u0304", 3)
def test_any_text_is_clipped_to_its_cells_and_holds_no_control(text: str, most: int) -> None:
    """The clipped text is no wider than asked, by rich's own measure, and no terminal acts on it."""
    shown = clip(text, most)
    assert cell_len(shown) <= most
    assert width(shown) == cell_len(shown)
    assert not any(unicodedata.category(c) in ("Cc", "Cf", "Cs") for c in shown)


@given(st.text(max_size=80))
def test_every_cell_has_one_letter_with_few_marks(text: str) -> None:
    """A letter carries at most two combining marks, so it does not reach the row above."""
    for cell in cells(text):
        marks = [c for c in cell if unicodedata.category(c) in ("Mn", "Me")]
        assert len(marks) <= 2 or len(cell) == 1


@given(st.text(max_size=200), st.integers(1, 40), st.integers(1, 4))
def test_wrapped_text_keeps_to_its_lines(text: str, most: int, lines: int) -> None:
    """No more lines and no wider than asked."""
    out = wrap(text, most, lines)
    assert len(out) <= lines
    assert all(width(line) <= most for line in out)


def test_wrapping_breaks_at_spaces_and_tells_what_is_left_out() -> None:
    """The last line ends in an ellipsis where words are left."""
    assert wrap("had 93 V, strikes by 90 V", 12, 3) == ["had 93 V,", "strikes by", "90 V"]
    assert wrap("one two three four", 8, 2) == ["one two", "three f…"]


def test_writing_beyond_any_edge_is_left_out() -> None:
    """Text above, below, left and right of a canvas changes nothing and raises nothing."""
    canvas = Canvas(6, 2)
    for row, column in ((-1, 0), (2, 0), (0, 9), (0, -20)):
        canvas.put(row, column, "abc")
    canvas.put(1, -1, "abcdefgh")
    assert canvas.lines() == ["", "bcdefg"]


def test_half_a_wide_letter_never_stays() -> None:
    """Writing over one half of a wide letter blanks the other."""
    canvas = Canvas(6, 1)
    canvas.put(0, 0, "真空管")
    canvas.put(0, 1, "x")
    canvas.put(0, 4, "y")
    assert cell_len("".join(canvas.chars[0])) == 6
    assert "".join(canvas.chars[0]).split() == ["x空y"]


def test_the_look_of_letters_alone_sends_nothing_but_ascii() -> None:
    """Whatever a name holds: an encoding that knows no more would write escapes and break the columns."""
    for text in HOSTILE:
        canvas = Canvas(30, 1, LETTERS.glyphs)
        canvas.put(0, 0, text + " …±", most=30)
        sent = strip(canvas, 0, LETTERS).text
        assert sent.isascii()
        assert len(sent) == 30


def test_hostile_texts_take_only_the_cells_they_were_given() -> None:
    """Each hostile text, written into ten cells, leaves the cells beside them alone."""
    for text in HOSTILE:
        canvas = Canvas(14, 3)
        for row in range(3):
            canvas.put(row, 0, "." * 14)
        canvas.put(1, 2, text, most=10)
        assert canvas.lines()[0] == canvas.lines()[2] == "." * 14
        line = "".join(canvas.chars[1])
        assert line.startswith("..")
        assert line.endswith("..")
        assert cell_len(line) == 14
