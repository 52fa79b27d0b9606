"""Sheets on screens of any size: no digit and no caution is cut, and what is live stays in view."""

from __future__ import annotations

import re

import pytest

from benchtui.model.readings import Channel
from benchtui.tui.draw.flow import flow
from benchtui.tui.draw.paint import BOLD, INK, LIVE_BOLD
from benchtui.tui.draw.text import width
from benchtui.tui.screens.caution import cautions

from . import scenes
from .fake_live import FakeLive
from .test_app import running, sheet, until

SIZES = [(20, 6), (28, 8), (30, 8), (40, 12), (60, 20), (80, 24)]


def texts(lines: object) -> list[str]:
    return ["".join(text for text, _ in line) for line in lines]  # type: ignore[attr-defined]


@pytest.mark.parametrize("columns", [16, 24, 26, 36, 76])
def test_a_live_voltage_stands_whole_on_the_cautions(columns: int) -> None:
    """The power is on: what it reads has all its digits and its unit, whatever the width."""
    lines = texts(flow(cautions("isolated", 30.0, "B+1 reads 359 V"), columns, 99))
    assert any("359 V" in line for line in lines[:3])
    assert all(width(line) <= columns for line in lines)


@pytest.mark.parametrize("columns", [20, 24, 26, 36, 76])
def test_every_word_of_the_cautions_is_there_where_rows_are_enough(columns: int) -> None:
    """`A variable transformer does not isolate` loses none of its words."""
    wide = " ".join(texts(flow(cautions("live", 30.0), 76, 99)))
    narrow = " ".join(texts(flow(cautions("live", 30.0), columns, 99)))
    assert narrow.split() == wide.split()


def test_where_rows_are_short_the_last_says_so() -> None:
    """An ellipsis ends what has no room; blank lines go first."""
    lines = [[("one two", INK)], [], [("three four", BOLD)], [("five", INK)]]
    assert texts(flow(lines, 20, 3)) == ["one two", "three four", "five"]
    assert texts(flow(lines, 20, 2)) == ["one two", "three four …"]
    assert texts(flow(lines, 5, 3)) == ["one", "two", "…"]
    assert flow(lines, 0, 3) == []


def test_a_quantity_without_room_is_an_ellipsis() -> None:
    """Never a number without its unit, never some of its digits."""
    line = [(" ON ", LIVE_BOLD), ("  B+1 reads 1.25 kV", BOLD)]
    assert texts(flow([line], 9, 9)) == [" ON   B+1", "reads", "1.25 kV"]
    assert texts(flow([line], 6, 9)) == [" ON ", "B+1", "reads", "…"]


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
async def test_the_cautions_of_a_live_set_on_a_screen_of_any_size(size: tuple[int, int]) -> None:
    """What is live is read off the sheet."""
    async with running(FakeLive([scenes.fault()]), size, cautions=True) as (app, pilot):
        await until(pilot, lambda: "POWER IS ON" in sheet(app) and "284 V" in sheet(app))


@pytest.mark.parametrize("size", SIZES[:-2], ids=lambda s: f"{s[0]}x{s[1]}")
@pytest.mark.parametrize("keys", ["question_mark", "space", "space n", "space R", "N", "q"])
async def test_no_sheet_covers_the_bar_of_a_small_screen(size: tuple[int, int], keys: str) -> None:
    """The first row stays the bar's: LIVE, and what is read."""
    meters = (Channel("A", "A"), Channel("B", "B"))
    async with running(FakeLive([scenes.fault()], channels=meters), size) as (app, pilot):
        await pilot.press(*keys.split())
        await until(pilot, lambda: app.screen is not app.dashboard)
        await pilot.pause()
        for widget in app.screen.query("Sheet, #note, Input"):
            assert widget.region.y >= 1, widget
            assert widget.region.bottom <= size[1], widget


async def test_a_sheet_follows_a_window_that_is_made_smaller() -> None:
    """Made low and narrow while the keys stand: the first row is free at once."""
    async with running(FakeLive([scenes.fault()])) as (app, pilot):
        await pilot.press("question_mark")
        await pilot.resize_terminal(30, 8)
        await until(pilot, lambda: app.screen.query_one("Sheet").region.y == 1)
        assert re.search(r"…\s*$", sheet(app))
