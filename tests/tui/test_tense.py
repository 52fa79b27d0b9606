"""A fault is told in the words of now: what stands, what is over, what nobody can see any more."""

from __future__ import annotations

from dataclasses import replace

from benchtui.tui.draw import alarm, letters, tense, topbar
from benchtui.tui.draw.far import draw_far, far_keys
from benchtui.tui.draw.glance import Glance
from benchtui.tui.draw.near import Chosen, draw_near
from benchtui.watch.board import Board, Row

from . import scenes
from .golden import MIDDLE, SMALL

OVER = scenes.finding(1, "outside", "regulator", 223, 231, value=0.178, low=145.0, high=155.0)
"""It read nothing for 8 s."""
STANDS = replace(OVER, id=2, end_ns=None)
OLDER = replace(scenes.finding(3, "outside", "screen", 100, None, value=161.2), id=3)


def board(row: Row, *found: object, **more: object) -> Board:
    rows = (*scenes.fault().rows[:4], row, *scenes.fault().rows[5:])
    return replace(scenes.fault(), rows=rows, findings=found, acknowledged=frozenset(), **more)  # type: ignore[arg-type]


def glance(of: Board, **more: object) -> Glance:
    return Glance(of, scenes.say, **more)  # type: ignore[arg-type]


def said(of: Board) -> str:
    chosen = alarm.choose(of)
    assert chosen is not None
    return " | ".join(alarm.lines(glance(of), chosen, True, 60))


def test_a_fault_that_is_over_says_that_it_was_and_how_it_is_now() -> None:
    """WAS OUT, the old number in the past tense, and the reading of now."""
    of = board(scenes.row("regulator", 150.2), OVER)
    assert tense.head(OVER, of.rows[4]) == "WAS OUT"
    assert said(of) == "outside at 3:43, for 8 s | read 0.18 V | not 145 to 155 V; now 150 V"
    text = "\n".join(draw_far(*SMALL, glance(of), scenes.nothing).lines())
    assert "reads 0" not in text


def test_a_fault_that_stands_tells_the_reading_of_now() -> None:
    """Not the number with which it was announced."""
    of = board(scenes.row("regulator", 0.15, "!!", "out, low"), STANDS)
    assert tense.head(STANDS, of.rows[4]) == "OUT"
    assert said(of).startswith("outside at 3:43 | reads 0.1")
    low = replace(STANDS, evidence={**STANDS.evidence, "value": 120.0})
    assert tense.head(low, scenes.row("regulator", 140.0, "!!", "out, low")) == "LOW"


def test_a_fault_that_stands_while_its_point_already_reads_in_its_band_contradicts_nothing() -> None:
    """Whole grains are judged: the finding stays open for some seconds more."""
    of = board(scenes.row("regulator", 150.2, "!!", "out, low"), STANDS)
    assert said(of).startswith("outside at 3:43 | read 0.18 V | not 145 to 155 V")


def test_what_stands_comes_before_what_is_over_however_new() -> None:
    """The older fault that stands has the bar."""
    of = board(scenes.row("regulator", 150.2), OLDER, OVER)
    chosen = alarm.choose(of)
    assert chosen is not None
    assert (chosen.finding.id, chosen.more) == (3, 1)
    assert alarm.following(of, 3, 1) == 1
    assert alarm.following(of, 1, 1) == 3


def test_a_point_whose_lead_was_moved_away_says_so() -> None:
    """Whether its finding was closed or not, nothing is said of it in the present tense."""
    gone = scenes.row("regulator", 0.18, "", "not measured", meter=None)
    for finding in (OVER, STANDS):
        assert tense.head(finding, gone) == "WAS OUT"
        assert "lead moved away: not measured" in said(board(gone, finding))


def test_acknowledged_faults_that_stand_keep_one_plain_line() -> None:
    """In place of what was found."""
    of = replace(board(scenes.row("regulator", 0.2, "!!", "out, low"), STANDS), acknowledged=frozenset((2,)))
    text = "\n".join(draw_far(*SMALL, glance(of), scenes.nothing).lines())
    assert "still !! regulator out since 3:43" in text


def test_the_near_view_has_a_red_row_for_a_fault_that_waits() -> None:
    """Below the bar, over its whole width."""
    canvas = draw_near(*SMALL, glance(scenes.fault()), Chosen("B+1"), scenes.nothing)
    assert {p.ground for p in canvas.paints[1]} == {"fault"}
    assert "pilot OUT at 4:07" in canvas.lines()[1]


def test_a_replay_is_never_drawn_in_the_colour_of_live() -> None:
    """REPLAY in block letters, in every phase; what was live is told as recorded."""
    for make in (scenes.fault, scenes.bleeding, scenes.below):
        of = replace(make(), replaying=True, recording=False)
        canvas = draw_far(*SMALL, glance(of, ended=True), scenes.nothing)
        assert not any(p.ground == "live" for row in canvas.paints for p in row)
        near = "\n".join(draw_near(*SMALL, glance(of), Chosen("B+1"), scenes.nothing).lines())
        assert "R E P L A Y" in near
    lines = topbar.lines(glance(replace(scenes.fault(), replaying=True), ended=True), 46)
    assert lines[0] == "recorded LIVE: B+1 reads 284 V"
    assert lines[2].endswith("end of recording")


def test_a_power_on_that_nobody_saw_is_never_called_off() -> None:
    """The header says since when it is watched."""
    on = scenes.fault()
    since = on.at_ns - 118 * scenes.S
    of = replace(
        on, on_ns=None, on_seen=False, run_since_ns=since, set_name="Saltmarsh Six of the coast station"
    )
    line = topbar.lines(glance(of), 46)[1]
    assert line.endswith("power-on not seen, watched 1:58")
    assert "off" not in line.replace("power-on", "")


def test_a_long_name_of_a_set_is_cut_and_the_state_of_the_run_is_not() -> None:
    """In both views."""
    of = replace(scenes.fault(), set_name="A very long name of a set that nobody can pronounce at all")
    assert topbar.lines(glance(of), 46)[1].endswith(", run 2, on 4:10")
    near = draw_near(*MIDDLE, glance(of), Chosen("B+1"), scenes.nothing).lines()[0]
    assert near.rstrip().endswith("run 2, on 4:10, recording")


def test_another_fault_can_be_asked_for_only_where_several_wait() -> None:
    """The key line offers `f`."""
    one, two = board(scenes.row("regulator", 150.2), OVER), board(scenes.row("regulator", 1.0), OLDER, OVER)
    assert ("f", "fault", False) in far_keys(glance(two))
    assert ("f", "fault", False) not in far_keys(glance(one))
    asked = draw_far(*SMALL, glance(two, asked=1), scenes.nothing).lines()
    assert "outside at 3:43" in asked[19]
    assert letters.spelt("WAS OUT")
