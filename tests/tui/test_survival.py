"""No board, no name, no size of window breaks the screen."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtui.model.units import Unit
from benchtui.tui.draw.canvas import Canvas
from benchtui.tui.draw.far import draw_far
from benchtui.tui.draw.glance import Glance, sound
from benchtui.tui.draw.looks import ASCII, CELLS, EIGHTHS
from benchtui.tui.draw.near import Chosen, draw_near
from benchtui.watch.board import Board, Hazard, Interval, Row

from . import odd_scenes, scenes
from .golden import KEYS, MIDDLE, SMALL

BOARDS = {
    **odd_scenes.ALL,
    "warmup": scenes.warmup,
    "fault": scenes.fault,
    "asleep": scenes.asleep,
    "rating": scenes.rating,
    "bleeding": scenes.bleeding,
    "below": scenes.below,
}
SIZES = [
    (0, 0),
    (1, 1),
    (7, 3),
    (40, 10),
    (79, 24),
    (80, 23),
    (80, 24),
    (81, 25),
    (100, 30),
    (119, 35),
    (120, 24),
]
SIZES += [(120, 36), (160, 45), (199, 60), (200, 60), (80, 60), (250, 24), (320, 100)]


def check(canvas: Canvas, width: int, height: int) -> None:
    """Every row has the width of the window, by rich's own measure, and nothing that a terminal acts on."""
    assert len(canvas.chars) == height
    for row in canvas.chars:
        line = "".join(row)
        assert cell_len(line) == width
        assert not any(unicodedata.category(c) in ("Cc", "Cf", "Cs") for c in line)


def both(board: Board, width: int, height: int, glyphs: str = EIGHTHS) -> list[Canvas]:
    glance = Glance(board, scenes.say, keys=KEYS)
    return [
        draw_far(width, height, glance, scenes.b_plus, glyphs),
        draw_near(width, height, glance, Chosen(), scenes.b_plus, glyphs),
    ]


@pytest.mark.parametrize("name", BOARDS)
@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_every_board_is_drawn_at_every_size(name: str, size: tuple[int, int]) -> None:
    """Also at none, and far beyond the sizes that have a layout of their own; in every set of glyphs."""
    for glyphs in (EIGHTHS, CELLS, ASCII):
        for canvas in both(BOARDS[name](), *size, glyphs):
            check(canvas, *size)


@pytest.mark.parametrize(
    "size", [s for s in SIZES if s[0] >= 20 and s[1] >= 3], ids=lambda s: f"{s[0]}x{s[1]}"
)
def test_live_is_on_every_size_of_screen(size: tuple[int, int]) -> None:
    """The bar is the last thing to go: its colour covers the first row from edge to edge."""
    for canvas in both(scenes.fault(), *size):
        assert {p.ground for p in canvas.paints[0]} <= {"live", "live_ink"}


@pytest.mark.parametrize("text", odd_scenes.HOSTILE, ids=lambda t: ascii(t)[:18])
@pytest.mark.parametrize("size", [SMALL, MIDDLE], ids=["80x24", "120x36"])
def test_a_hostile_name_changes_nothing_but_its_own_row(text: str, size: tuple[int, int]) -> None:
    """Against the same board with a plain name, only lines that name the point differ."""
    plain, hostile = both(odd_scenes.hostile("grid"), *size), both(odd_scenes.hostile(text), *size)
    for before, after in zip(plain, hostile, strict=True):
        check(after, *size)
        rows = {y for y in range(size[1]) if before.chars[y] != after.chars[y]}
        named = {y for y in range(size[1]) if "grid" in "".join(before.chars[y])}
        assert rows <= named


def test_a_hostile_note_stays_on_its_line() -> None:
    """What a person typed changes only the line of the last mark."""
    for text in odd_scenes.HOSTILE:
        board = replace(odd_scenes.hostile(text), acknowledged=frozenset((1, 2, 4)))
        plain = replace(odd_scenes.hostile("grid"), acknowledged=frozenset((1, 2, 4)))
        after, before = both(board, *SMALL)[0], both(plain, *SMALL)[0]
        rows = {y for y in range(24) if before.chars[y] != after.chars[y]}
        assert rows <= {y for y in range(24) if "grid" in "".join(before.chars[y])}


numbers = st.one_of(st.none(), st.floats(-1e7, 1e7), st.sampled_from([float("nan"), float("inf"), 0.0, -0.0]))
plus = st.one_of(st.none(), st.floats(0, 1e6))


@st.composite
def rows(draw: st.DrawFn) -> Row:
    """Any row a board could hold, and some it could not."""
    value = draw(numbers)
    bounds = sorted(draw(st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=3)))
    if draw(st.integers(0, 9)) == 0:
        bounds[draw(st.integers(0, 2))] = float("nan")
    has = draw(st.lists(st.booleans(), min_size=4, max_size=4))
    at = draw(st.floats(0, 1e5))
    foreseen = Interval(bounds[1], bounds[0], bounds[2], at, at, at) if draw(st.booleans()) else None
    return Row(
        point=draw(st.text(max_size=12)),
        unit=draw(st.sampled_from(list(Unit))),
        sign=draw(st.sampled_from(["=", "!!", "?", "^", "v", "~", "x", "#", ""])),
        word=draw(
            st.sampled_from(["in", "out, low", "out, high", "rising", "RATING passed", "off", "overload", ""])
        ),
        value=value,
        level=draw(st.one_of(st.just(value), numbers)),
        step=draw(st.sampled_from([0.0, 1e-9, 0.01, 0.1, 1.0, 7.0])),
        noise=draw(st.floats(0, 10)),
        low=bounds[0] if has[0] else None,
        nominal=bounds[1] if has[1] else None,
        high=bounds[2] if has[2] else None,
        limit=bounds[2] if has[3] else None,
        age_s=draw(plus),
        period_s=draw(plus),
        meter=draw(st.one_of(st.none(), st.text(max_size=5))),
        seen=draw(st.booleans()),
        settled=draw(st.booleans()),
        drift_per_h=draw(numbers),
        predicted=foreseen,
        bleed=foreseen,
        fault=draw(st.one_of(st.none(), st.integers(0, 3))),
        acknowledged=draw(st.booleans()),
        accuracy=draw(plus),
    )


@settings(max_examples=150, deadline=None)
@given(
    st.lists(rows(), max_size=14),
    st.sampled_from(["cold", "on", "off", "below"]),
    st.sampled_from([SMALL, MIDDLE, (200, 60), (50, 12)]),
    st.sampled_from([EIGHTHS, CELLS, ASCII]),
)
def test_any_board_is_drawn(of: list[Row], phase: str, size: tuple[int, int], glyphs: str) -> None:
    """Whatever a board holds, the screen is whole."""
    first = of[0] if of else None
    hazard = Hazard(
        phase in ("on", "off"), phase, first.point if first else None, first.value if first else None,
        first.unit if first else Unit.V, None, first.age_s if first else None,
        tuple(r.point for r in of[:3]), first.bleed if first else None,
    )  # fmt: skip
    board = sound(Board(at_ns=10**12, rows=tuple(of), hazard=hazard, run=1, on_ns=5 * 10**11))
    for canvas in both(board, *size, glyphs):
        check(canvas, *size)
