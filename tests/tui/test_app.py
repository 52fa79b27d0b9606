"""The application: what each key asks of the session, and what is on the screen then."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from typing import Any

import pytest
from textual.events import Key
from textual.pilot import Pilot
from textual.widgets import Input

from benchtui.model.errors import SessionError
from benchtui.model.readings import Channel
from benchtui.report.cautions import caution_lines
from benchtui.tui.app import BenchApp
from benchtui.tui.screens.dashboard import SAID_DRAWS
from benchtui.tui.widgets.painted import Painted
from benchtui.watch.board import Board

from . import odd_scenes, scenes
from .fake_live import FakeLive, chart, opened

SMALL = (80, 24)


@asynccontextmanager
async def running(
    live: FakeLive, size: tuple[int, int] = SMALL, cautions: bool = False
) -> AsyncIterator[tuple[BenchApp, Pilot[None]]]:
    """The app with one step taken."""
    app = BenchApp(live, cautions=cautions)
    async with app.run_test(size=size, notifications=True) as pilot:
        app.step()
        await pilot.pause()
        yield app, pilot


async def until(pilot: Pilot[None], is_so: Callable[[], bool]) -> None:
    """Lets the app deal with its messages until something is so, or it clearly never will be."""
    for _ in range(300):
        if is_so():
            return
        await pilot.pause()
    raise AssertionError("it never became so")


def text(app: BenchApp) -> str:
    """The characters of the view in front, as the widget gives them to Textual."""
    view: Painted = app.dashboard.near if app.dashboard.is_near else app.dashboard.far
    return "\n".join(view.render_line(y).text.rstrip() for y in range(view.size.height))


def sheet(app: BenchApp) -> str:
    """The characters of the sheet in front."""
    front = app.screen.query_one("Sheet", Painted)
    return "\n".join(front.render_line(y).text.rstrip() for y in range(front.size.height))


def asked(live: FakeLive, *what: str) -> list[tuple[Any, ...]]:
    return [a for a in live.asked if a[0] in what]


async def test_the_far_view_is_the_first_screen() -> None:
    """Block digits, rows and keys of the board; every row as wide as the window."""
    async with running(FakeLive([scenes.fault()])) as (app, _):
        lines = text(app).splitlines()
        assert lines[12].startswith("  !! screen        161 V")
        assert "space mark" in lines[23]
        view = app.dashboard.far
        assert {view.render_line(y).cell_length for y in range(24)} == {80}


@pytest.mark.parametrize("chassis", ["live", "isolated", ""])
async def test_the_cautions_stand_before_everything_and_any_key_goes_on(chassis: str) -> None:
    """All that plain lines say, the chassis among it; the key that takes them away does nothing else."""
    live = FakeLive([scenes.fault()], chart_=chart(chassis))
    async with running(live, cautions=True) as (app, pilot):
        shown = sheet(app)
        told = " ".join(shown.split())
        assert not [line for line in caution_lines(chassis, 30.0) if line not in told]
        assert ("LIVE CHASSIS" in shown) == (chassis == "live")
        assert ("The chart does not say" in shown) == (chassis == "")
        await pilot.press("space")
        assert app.screen is app.dashboard
        assert not asked(live, "mark")


async def test_the_board_goes_on_behind_a_sheet() -> None:
    """While the cautions stand, the bar already shows the newest reading."""
    later = replace(scenes.fault(), at_ns=scenes.fault().at_ns + 5 * scenes.S)
    async with running(FakeLive([scenes.fault(), later]), cautions=True) as (app, pilot):
        app.step()
        await pilot.pause()
        assert "run 2, on 4:15" in text(app).replace("█", " ")


async def test_space_and_a_letter_make_a_mark() -> None:
    """The mark is made at the letter; the key line says so for a moment."""
    live = FakeLive([scenes.warmup()])
    async with running(live) as (app, pilot):
        await pilot.press("space", "t")
        assert asked(live, "mark") == [("mark", "tap", "", "")]
        assert "marked at 0:24: tap" in text(app).splitlines()[23]
        for _ in range(SAID_DRAWS + 1):
            app.step()
        assert "space mark" in text(app).splitlines()[23]
        assert "last   0:24  tap" in text(app)


async def test_space_twice_repeats_the_last_mark() -> None:
    """So a foot switch, which types a space, marks without hands."""
    live = FakeLive([scenes.warmup()])
    async with running(live) as (_, pilot):
        await pilot.press("space", "space", "space", "h", "space", "space", "space", "escape")
        assert [a[1] for a in asked(live, "mark")] == ["tap", "heat", "heat"]


async def test_a_mark_is_repeated_with_what_it_was_done_to() -> None:
    """`T`, V8, then the foot switch twice: V8 was tapped again. A bare tap is repeated bare."""
    live = FakeLive([scenes.warmup()])
    async with running(live) as (app, pilot):
        await pilot.press("space", "T", "V", "8", "enter", "space")
        assert "space  tap V8, as before" in sheet(app)
        await pilot.press(
            "space", "space", "T", "V", "escape", "space", "space", "space", "t", "space", "space"
        )
        marks = [(kind, what) for _, kind, _, what in asked(live, "mark")]
        assert marks == [("tap", "V8")] * 3 + [("tap", "")] * 2


@pytest.mark.parametrize("typed", ["  ", " t", "    ", " nq [/x]\r"])
async def test_keys_that_come_faster_than_screens_change_are_not_lost(typed: str) -> None:
    """All keys are in the queue before the first is dealt with: a foot switch hit twice, a quick hand."""
    made = {"  ": ["tap"], " t": ["tap"], "    ": ["tap", "tap"], " nq [/x]\r": ["note"]}[typed]
    live = FakeLive([scenes.warmup()])
    async with running(live) as (app, pilot):
        for char in typed:
            name = {" ": "space", "\r": "enter", "[": "left_square_bracket", "]": "right_square_bracket"}
            app.post_message(Key(name.get(char, char), None if char == "\r" else char))
        await until(pilot, lambda: len(asked(live, "mark")) == len(made))
        assert [a[1] for a in asked(live, "mark")] == made


async def test_a_note_is_typed_in_a_sheet_of_its_own() -> None:
    """Spaces, letters that are keys elsewhere and markup are only text there."""
    live = FakeLive([scenes.warmup()])
    async with running(live) as (app, pilot):
        await pilot.press("space", "n")
        await pilot.press("q", "space", "[", "/", "x", "]", "enter")
        assert asked(live, "mark") == [("mark", "note", "q [/x]", "")]
        assert app.screen is app.dashboard


async def test_a_capital_letter_asks_what_it_was_done_to() -> None:
    """And escape there makes no mark."""
    live = FakeLive([scenes.warmup()])
    async with running(live) as (app, pilot):
        await pilot.press("space", "R", "V", "6", "enter")
        assert asked(live, "mark") == [("mark", "reseat", "", "V6")]
        await pilot.press("space", "S", "V", "escape")
        assert len(asked(live, "mark")) == 1
        assert app.screen is app.dashboard


async def test_a_replay_takes_no_marks_and_says_so() -> None:
    """The key line, not silence."""
    live = FakeLive([replace(scenes.warmup(), replaying=True)])
    live.takes = False
    async with running(live) as (app, pilot):
        await pilot.press("space", "t")
        assert "a replay takes no marks" in text(app)


async def test_one_key_toggles_what_the_eye_sees() -> None:
    """The row says what the key records next, the key line what it has recorded."""
    for board, lit in ((scenes.warmup(), False), (scenes.fault(), True)):
        live = FakeLive([board])
        now, then = ("lit", "out") if lit else ("out", "lit")
        async with running(live) as (app, pilot):
            assert f"1: {now}" in text(app)
            await pilot.press("1")
            assert asked(live, "seen") == [("seen", "pilot", lit)]
            assert f"recorded: pilot {now}; 1 again: {then}" in text(app)


async def test_i_says_that_the_eye_looked_and_all_is_as_shown() -> None:
    """Nothing toggles."""
    live = FakeLive([scenes.warmup()])
    async with running(live) as (_, pilot):
        await pilot.press("i")
        assert asked(live, "seen") == [("seen", "pilot", True)]


async def test_n_moves_the_only_meters_lead_to_the_next_free_point() -> None:
    """From the point it is on, down the chart."""
    rows = tuple(replace(r, meter="A" if r.point == "B+1" else None) for r in scenes.warmup().rows)
    live = FakeLive([replace(scenes.warmup(), rows=rows)])
    async with running(live) as (app, pilot):
        await pilot.press("n")
        assert asked(live, "move_lead") == [("move_lead", 0, "B+2")]
        assert "LIVE: power off to move leads. A: lead on B+2, second reservoir capacitor C…" in text(app)
    below = replace(scenes.below(), rows=rows)
    async with running(FakeLive([below])) as (app, pilot):
        await pilot.press("n")
        assert "  A: lead on B+2, second reservoir capacitor C32" in text(app)


async def test_with_several_meters_n_asks_once_whose_lead_moves() -> None:
    """The choice holds for the next time; N asks again."""
    rows = tuple(replace(r, meter={"B+1": "A", "B+2": "B"}.get(r.point)) for r in scenes.warmup().rows)
    live = FakeLive([replace(scenes.warmup(), rows=rows)], channels=(Channel("A", "A"), Channel("B", "B")))
    async with running(live) as (app, pilot):
        await pilot.press("n")
        assert "B                     on B+2" in sheet(app)
        await pilot.press("2", "n")
        assert [a[1:] for a in asked(live, "move_lead")] == [(1, "screen"), (1, "screen")]
        await pilot.press("N", "1")
        assert asked(live, "move_lead")[-1] == ("move_lead", 0, "screen")


async def test_a_acknowledges_the_fault_in_the_bar_with_what_it_explains() -> None:
    """The bar goes, and the row keeps its sign."""
    found = (
        scenes.finding(3, "dropout", "pilot", 247, None),
        scenes.finding(4, "fed_but_out", "pilot", 247, None, of=3),
    )
    live = FakeLive([replace(scenes.fault(), findings=found)])
    async with running(live) as (app, pilot):
        await pilot.press("a")
        assert asked(live, "acknowledge") == [("acknowledge", 4), ("acknowledge", 3)]
        app.step()
        assert "next   every point has a meter" in text(app)
        assert "  !! pilot" in text(app)


async def test_capital_a_acknowledges_all() -> None:
    """None stands for all."""
    live = FakeLive([scenes.fault()])
    async with running(live) as (_, pilot):
        await pilot.press("A")
        assert asked(live, "acknowledge") == [("acknowledge", None)]


async def test_p_holds_the_chart_of_a_live_bench_and_never_a_number() -> None:
    """After the pause the digits still follow the board; the chart is marked as held."""
    later = scenes.fault()
    later = replace(later, at_ns=later.at_ns + 9 * scenes.S, rows=(scenes.row("B+1", 300.0), *later.rows[1:]))
    now = [scenes.fault()]
    live = FakeLive(lambda: now[0], scenes.b_plus)
    async with running(live, (120, 36)) as (app, pilot):
        await pilot.press("v", "p")
        assert asked(live, "pause") == [("pause", True)]
        now[0] = later
        app.step()
        shown = text(app)
        assert "300.0 V" in shown
        assert "B+1  held" in shown
        assert "now 4:10" in shown
        await pilot.press("p")
        assert asked(live, "pause")[-1] == ("pause", False)


async def test_v_changes_between_far_and_near() -> None:
    """And back."""
    async with running(FakeLive([scenes.asleep()], scenes.b_plus)) as (app, pilot):
        await pilot.press("v")
        await until(pilot, lambda: app.dashboard.near.size.height == 24)
        lines = text(app).splitlines()
        assert lines[0].replace("█", " ").startswith("  L I V E    B+1 reads 284 V")
        assert lines[2].startswith("> =  B+1         284.3 V")
        await pilot.press("v")
        await until(pilot, lambda: app.dashboard.far.size.height == 24)
        assert "space mark" in text(app)


async def test_j_and_k_choose_the_point_of_the_chart_round_at_the_ends() -> None:
    """Arrows do the same."""
    async with running(FakeLive([scenes.asleep()], scenes.b_plus)) as (app, pilot):
        await pilot.press("v", "j", "j")
        assert app.dashboard.near.chosen.point == "screen"
        await pilot.press("k", "up", "up")
        assert app.dashboard.near.chosen.point == "heater"
        assert any(line.startswith("> x  heater") for line in text(app).splitlines())


async def test_f_goes_through_the_findings_and_brings_point_and_time_into_view() -> None:
    """The newest fault first; enter shows all that is known of it."""
    board = scenes.asleep()
    async with running(FakeLive([board], scenes.b_plus)) as (app, pilot):
        await pilot.press("v", "f")
        assert app.dashboard.near.chosen.point == "pilot"
        await pilot.press("f")
        assert app.dashboard.near.chosen.point == "screen"
        await pilot.press("F", "enter")
        shown = sheet(app)
        assert "pilot  fed but out" in shown
        assert "feed had            93 V" in shown
        assert "strikes at          65 to 90 V" in shown
        await pilot.press("escape")
        assert app.screen is app.dashboard


async def test_enter_on_a_point_opens_what_was_found_on_that_point() -> None:
    """Not the newest fault of another; where there is nothing, it says so."""
    async with running(FakeLive([scenes.asleep()], scenes.b_plus)) as (app, pilot):
        await pilot.press("v", "j", "j", "enter")
        assert "screen  outside" in sheet(app)
        await pilot.press("escape", "j", "enter")
        assert app.screen is app.dashboard
        assert "nothing found on V6 cathode" in app.dashboard.glance().said


async def test_zoom_time_and_scale_keys_change_what_the_chart_asks_for() -> None:
    """Plus halves the stretch, h goes back, 0 is the whole run again, z changes the scale."""
    live = FakeLive([scenes.asleep()], scenes.b_plus)
    async with running(live) as (app, pilot):
        await pilot.press("v", "plus")
        chosen = app.dashboard.near.chosen
        assert chosen.stretch.span_ns == 125 * scenes.S
        await pilot.press("h")
        end = app.dashboard.near.chosen.stretch.end_ns
        assert end is not None
        assert end < scenes.asleep().at_ns
        await pilot.press("0", "z")
        assert app.dashboard.near.chosen.stretch.span_ns is None
        assert app.dashboard.near.chosen.unrolled is False
        last = asked(live, "course")[-1]
        assert last[2:4] == (scenes.ON_S * scenes.S, scenes.asleep().at_ns)


async def test_keys_of_the_near_view_do_nothing_in_the_far_view() -> None:
    """No hidden change waits behind v."""
    async with running(FakeLive([scenes.asleep()], scenes.b_plus)) as (app, pilot):
        before = app.dashboard.near.chosen
        await pilot.press("j", "f", "plus", "h", "z", "enter", "0")
        assert app.dashboard.near.chosen == before


async def test_the_question_mark_shows_every_key() -> None:
    """Those of the eye with their points."""
    async with running(FakeLive([scenes.warmup()])) as (app, pilot):
        await pilot.press("question_mark")
        shown = sheet(app)
        assert "1      pilot has gone out; again: is lit" in shown
        assert "acknowledge" in shown
        await pilot.press("x")
        assert app.screen is app.dashboard


async def test_q_asks_once() -> None:
    """Any other key goes back; q again quits. Under power it says what stays."""
    async with running(FakeLive([scenes.fault()])) as (app, pilot):
        await pilot.press("q")
        assert "the voltage stays" in sheet(app)
        await pilot.press("n")
        assert app.screen is app.dashboard
        assert app.is_running
        await pilot.press("q", "q")
        await pilot.pause()
        assert not app.is_running


async def test_a_fault_rings_and_turns_the_bar_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two strokes for a fault, and the bar's colours change places for a moment; then it stands still."""
    rung: list[int] = []
    live = FakeLive([scenes.fault()])
    async with running(live) as (app, pilot):
        monkeypatch.setattr(app, "ring", rung.append)
        live.new_events = [opened(scenes.fault().findings[-1])]
        app.step()
        live.new_events = []
        assert rung == [2]
        assert app.dashboard.glance().flash
        for _ in range(4):
            app.step()
        assert not app.dashboard.glance().flash
        await pilot.pause()


async def test_without_sound_nothing_rings_but_the_bar_still_turns(monkeypatch: pytest.MonkeyPatch) -> None:
    """The person's setting is kept."""
    rung: list[int] = []
    live = FakeLive([scenes.fault()])
    live.settings = replace(live.settings, sound=False)
    async with running(live) as (app, _):
        monkeypatch.setattr(app, "ring", rung.append)
        live.new_events = [opened(scenes.fault().findings[-1])]
        app.step()
        assert rung == []
        assert app.dashboard.glance().flash


async def test_an_unchanged_board_is_not_drawn_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """A paused replay costs nothing."""
    async with running(FakeLive([scenes.fault()])) as (app, _):
        drawn: list[int] = []
        monkeypatch.setattr(app.dashboard, "draw", lambda: drawn.append(1))
        for _ in range(5):
            app.step()
        assert drawn == []


async def test_only_rows_that_changed_are_refreshed(monkeypatch: pytest.MonkeyPatch) -> None:
    """One more second on the clock is one row."""
    later = replace(scenes.fault(), at_ns=scenes.fault().at_ns + scenes.S)
    live = FakeLive([scenes.fault()])
    async with running(live) as (app, _):
        rows: list[int] = []
        view = app.dashboard.far
        monkeypatch.setattr(view, "refresh", lambda *regions: rows.extend(r.y for r in regions))
        app.dashboard.show(later)
        assert rows == [1]


async def test_the_session_of_a_bench_ends_the_screen_but_the_end_of_a_replay_does_not() -> None:
    """A replay that is over stays to be looked at."""
    live = FakeLive([scenes.fault()])
    async with running(live) as (app, pilot):
        live.done = True
        app.step()
        await pilot.pause()
        assert not app.is_running
    live = FakeLive([replace(scenes.fault(), replaying=True, recording=False)])
    async with running(live) as (app, pilot):
        live.done = True
        app.step()
        await pilot.pause()
        assert app.is_running


async def test_an_error_of_the_session_ends_the_screen_with_its_words() -> None:
    """The error comes out of it as it was raised; `main` tells it plainly, with status 2."""
    live = FakeLive([scenes.fault()])
    failure = SessionError("the disk is full\x1b[2J")
    async with running(live) as (app, pilot):

        def fails() -> Board:
            raise failure

        live.step = fails  # type: ignore[method-assign]
        app.step()
        await pilot.pause()
        assert app.failure is failure
        assert not app.is_running


async def test_hostile_names_pass_through_the_whole_app() -> None:
    """Both views, every sheet, and the names of meters and points in them."""
    for name in odd_scenes.HOSTILE:
        live = FakeLive(
            [odd_scenes.hostile(name)], scenes.b_plus, channels=(Channel(name, name), Channel("B", "B"))
        )
        async with running(live) as (app, pilot):
            await pilot.press("v", "j", "j", "j", "n", "escape", "question_mark", "x", "v", "1")
            await pilot.pause()
            assert app.is_running
            assert "\x1b" not in text(app)


async def test_many_resizes_end_in_the_right_size() -> None:
    """Each only marks what is to be drawn."""
    async with running(FakeLive([scenes.fault()], scenes.b_plus)) as (app, pilot):
        for i in range(40):
            await pilot.resize_terminal(60 + i % 90, 10 + i % 40)
        await pilot.resize_terminal(120, 36)
        await pilot.pause()
        app.step()
        assert len(text(app).splitlines()) == 36
        assert "350" in text(app)


async def test_a_note_field_shows_markup_as_text() -> None:
    """What is typed is shown as typed."""
    async with running(FakeLive([scenes.warmup()])) as (app, pilot):
        await pilot.press("space", "n", "[", "/", "]")
        assert app.screen.query_one(Input).value == "[/]"
        await pilot.press("escape")
