"""The needle: one scale for all points."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.model.units import Unit
from benchtui.tui.draw import needle, scale
from benchtui.tui.draw.canvas import Canvas
from benchtui.watch.board import Row

from .odd_scenes import plain_row
from .scenes import foreseen, row


def drawn(of: Row, width: int = 21, glyphs: str = "eighths") -> str:
    canvas = Canvas(width + 2, 1, glyphs)
    needle.draw(canvas, 0, 1, width, of)
    return "".join(canvas.chars[0])[1:-1]


def test_the_band_has_the_same_cells_for_every_point() -> None:
    """Sides are a quarter of the width, the band between is odd, so that nominal is the middle of a cell."""
    assert [scale.band_cells(w) for w in (21, 36, 41, 62)] == [(5, 16), (9, 26), (10, 31), (15, 46)]


@pytest.mark.parametrize(
    ("of", "text"),
    [
        (row("screen", 121.0, "^", "rising"), "───▏▏     │     ─────"),
        (row("regulator", 150.0), "─────     █     ─────"),
        (row("screen", 161.2, "!!", "out, low"), "────█     │     ─────"),
        (row("screen", 230.0, "!!", "out, high"), "─────     │     ███──"),
        (row("pilot", 1.0), "─────     █     ─────"),
        (row("pilot", 0.0, "!!", "out"), "█████     │     ─────"),
        (row("heater", None), "─────     │     ─────"),
        (row("B+1", -20.0, "^", "rising"), "◄────     │     ─────"),
    ],
)
def test_a_value_stands_where_it_is_on_the_scale(of: Row, text: str) -> None:
    """Right is on the plumb line; out leans out of the band, solid from its edge; beyond the end an arrow."""
    assert drawn(of) == text


def test_a_passed_rating_fills_the_right_side() -> None:
    """Solid to the end, with an arrow in the last cell."""
    assert drawn(row("B+1", 352.0, "#", "RATING passed"), 36).endswith("█████████►")


def test_a_prediction_lies_at_the_foot_of_the_band() -> None:
    """285 +-6 V covers its four cells, the plumb line among them."""
    rising = row("B+1", 212.0, "^", "rising", predicted=foreseen(285.0, 6.0, 64))
    assert drawn(rising, 36) == "───────▍▍       ▁│▁▁      ──────────"


def test_negative_points_run_from_left_to_right_as_numbers_do() -> None:
    """-14 V is left of -10 V; a value above the band is out on the right, as its word says."""
    bias = plain_row("bias", Unit.V, -12.0, low=-14.0, nominal=-12.0, high=-10.0)
    assert drawn(bias) == "─────     █     ─────"
    assert (
        drawn(replace(bias, value=-9.4, level=-9.4, sign="!!", word="out, high")) == "─────     │     █────"
    )


def test_without_limits_there_is_no_needle() -> None:
    """A point of no chart has an empty column, and bounds without a nominal have no plumb line."""
    assert drawn(plain_row("p", Unit.V, 5.0)).strip() == ""
    assert "│" not in drawn(plain_row("p", Unit.V, None, low=4.0, high=6.0))


def test_looks_without_shading_draw_the_band() -> None:
    """Whole cells with a drawn band; letters with brackets."""
    assert drawn(row("regulator", 150.0), glyphs="cells") == "─────┝━━━━█━━━━┥─────"
    assert drawn(row("screen", 161.2, "!!", "out, low"), glyphs="ascii") == "----<[====|====]-----"


def test_after_power_off_the_band_is_the_warning_level() -> None:
    """The left half is linear up to the level, the right half logarithmic up to the rating."""
    canvas = Canvas(36, 1)
    needle.below(canvas, 0, 0, 36, row("B+1", 142.9), 30.0, 142.9)
    assert "".join(canvas.chars[0]) == " " * 18 + "──────────▉▉──────"
    assert {p.ground for p in canvas.paints[0][:18]} == {"band"}


values = st.floats(-1e5, 1e5)


@given(
    values, values, values, values, st.one_of(st.none(), values), st.sampled_from(["=", "!!", "^", "#", ""])
)
def test_any_chart_and_any_value_draw_within_the_column(
    value: float, low: float, nominal: float, high: float, limit: float | None, sign: str
) -> None:
    """Whatever the numbers, the needle stays in its cells, and its scale rises."""
    low, nominal, high = sorted((low, nominal, high))
    of = plain_row("p", Unit.V, value, sign, "in", low=low, nominal=nominal, high=high, limit=limit)
    found = scale.scale(of, 21)
    if found is not None:
        assert all(
            a[0] < b[0] and a[1] <= b[1] for a, b in zip(found.anchors, found.anchors[1:], strict=False)
        )
    canvas = Canvas(23, 1)
    needle.draw(canvas, 0, 1, 21, of)
    assert canvas.chars[0][0] == canvas.chars[0][22] == " "
    below = Canvas(23, 1)
    needle.below(below, 0, 1, 21, of, 30.0, value)
    assert below.chars[0][0] == below.chars[0][22] == " "
