"""The two bars: what can hurt, and the one thing that is wrong."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest

from benchtui.model.findings import Finding
from benchtui.model.units import Unit
from benchtui.tui.draw import alarm, letters, topbar
from benchtui.tui.draw.far import draw_far, far_keys
from benchtui.tui.draw.glance import Glance
from benchtui.tui.draw.near import near_keys
from benchtui.watch.board import Board, Hazard

from . import odd_scenes, scenes
from .golden import SMALL


def glance(board: Board, **more: object) -> Glance:
    return Glance(board, scenes.say, **more)  # type: ignore[arg-type]


def screen(board: Board) -> str:
    return "\n".join(draw_far(*SMALL, glance(board), scenes.nothing).lines())


def test_live_stands_from_power_on_whatever_the_meters_read() -> None:
    """With 0 V on every point, and with no reading at all, the bar says LIVE."""
    quiet = Hazard(True, "on", None, None)
    for board in (replace(scenes.warmup(), hazard=quiet), odd_scenes.no_values()):
        assert topbar.is_live(board)


@pytest.mark.parametrize("phase", ["on", "off"])
def test_a_phase_under_power_or_after_it_is_live_even_if_the_board_forgot_to_say_so(phase: str) -> None:
    """Where the two disagree, the bar errs on the side of the person."""
    assert topbar.is_live(Board(hazard=Hazard(False, phase)))
    assert not topbar.is_live(Board(hazard=Hazard(False, "below")))


def test_an_old_reading_is_called_old_and_to_be_treated_as_live() -> None:
    """The bar names the point, gives its age and its last value, never the value alone."""
    lines = topbar.lines(glance(odd_scenes.stale()), 60)
    assert lines[0] == "B+1: no reading 9 s; last 287 V."
    assert lines[1].startswith("Treat as live.")


def test_no_reading_at_all_is_to_be_treated_as_live() -> None:
    """With no value there is no number in the bar."""
    board = replace(scenes.warmup(), hazard=Hazard(True, "on"))
    assert topbar.lines(glance(board), 60)[:2] == [
        "No reading.",
        "Treat as live. Saltmarsh Six, run 2, on 0:24",
    ]


def test_after_power_off_the_first_word_is_unplug() -> None:
    """Then what still reads most, then what is not measured."""
    lines = topbar.lines(glance(scenes.bleeding()), 60)
    assert lines[:2] == ["UNPLUG. B+1 reads 143 V", "B+2 NOT MEASURED"]


def test_below_the_level_the_bar_says_what_to_do_and_gives_time_and_meter() -> None:
    """Value, meter and wall time; discharge, measure, leave shorted; it can return."""
    zone = timezone(timedelta(hours=1))
    board = replace(scenes.below(), started=datetime(1957, 3, 9, 21, 0, tzinfo=zone))
    lines = topbar.lines(glance(board), 60)
    assert lines[0] == "below 30 V: B+1 reads 12 V, meter A, 21:14"
    assert " ".join(lines[1:]) == (
        "Discharge through a resistor, measure every capacitor, leave shorted; voltage can return"
    )
    assert not any(
        p.ground == "live" for row in draw_far(*SMALL, glance(board), scenes.nothing).paints for p in row
    )


@pytest.mark.parametrize(
    "make", [scenes.warmup, scenes.fault, scenes.bleeding, scenes.below, odd_scenes.cold]
)
def test_no_screen_claims_that_something_may_be_touched(make: object) -> None:
    """None of the words that would say so stands on any screen."""
    text = screen(make()).lower()  # type: ignore[operator]
    for claim in ("safe", "dead", "discharged", "isolated", "ok to touch", "fixed"):
        assert claim not in text.split()


def test_bar_and_block_show_the_same_number() -> None:
    """Both are drawn from the held level."""
    board = scenes.warmup()
    held = {"B+1": 211.0}
    assert topbar.lines(glance(board, levels=held), 60)[0] == "B+1 reads 211 V"


def test_a_session_that_cannot_be_written_says_so_in_the_bar() -> None:
    """The reason stands where `recording` stood."""
    lines = topbar.lines(glance(scenes.fault(), trouble="the disk is full"), 60)
    assert lines[2] == "NOT RECORDED: the disk is full"


def test_ac_and_negative_volts_are_named_as_what_they_are() -> None:
    """Vac is no V, and a minus stays."""
    board = Board(hazard=Hazard(True, "on", "winding", 348.0, Unit.VAC))
    assert topbar.lines(glance(board), 60)[0] == "winding reads 348 Vac"
    board = Board(hazard=Hazard(True, "on", "bias", -62.0, Unit.V))
    assert topbar.lines(glance(board), 60)[0] == "bias reads -62.0 V"


def fault(number: int, kind: str = "dropout", at_s: float = 10.0, **more: object) -> Finding:
    return scenes.finding(number, kind, "B+1", at_s, None, **more)


def test_the_bar_shows_a_rating_first_and_else_the_newest() -> None:
    """A rating from before outranks a newer dropout."""
    newer = (fault(1, at_s=10), fault(2, "chatter", at_s=20))
    chosen = alarm.choose(Board(findings=newer))
    assert chosen is not None
    assert (chosen.finding.id, chosen.more) == (2, 1)
    chosen = alarm.choose(Board(findings=(fault(3, "limit", 5), *newer)))
    assert chosen is not None
    assert (chosen.finding.id, chosen.more) == (3, 2)


def test_acknowledged_faults_leave_the_bar_but_a_lasting_rating_stays() -> None:
    """Nothing silences a rating while it is passed."""
    known = frozenset({1, 2})
    assert alarm.choose(Board(findings=(fault(1),), acknowledged=known)) is None
    chosen = alarm.choose(Board(findings=(fault(1), fault(2, "limit")), acknowledged=known))
    assert chosen is not None
    assert chosen.finding.id == 2
    ended = replace(fault(2, "limit"), end_ns=scenes.S * 700, state="closed")
    assert alarm.choose(Board(findings=(ended,), acknowledged=known)) is None


def test_meter_trouble_warnings_and_withdrawn_findings_never_take_the_bar() -> None:
    """Only faults of the set do."""
    others = (fault(1, "gap"), fault(2, "creep"), replace(fault(3), state="withdrawn"))
    assert alarm.choose(Board(findings=others)) is None


def test_what_another_finding_explains_does_not_wait_beside_it() -> None:
    """The pilot's dropout is told by `fed but out`, and goes with it."""
    chosen = alarm.choose(Board(findings=(fault(1), fault(2, "fed_but_out", of=1))))
    assert chosen is not None
    assert (chosen.finding.id, chosen.explains, chosen.more) == (2, (1,), 0)


def test_a_name_is_never_cut_to_another_points_name() -> None:
    """`B+1` would be `B+`: where it has no room, whole words go, and the text names the point."""
    row = scenes.row("V6 cathode", 5.4, "!!", "out, low")
    found = scenes.finding(1, "outside", "V6 cathode", 10, None)
    whole = letters.wide(letters.spelt("V6 cathode LOW"))
    assert alarm.heading(found, row, whole) == (letters.spelt("V6 cathode LOW"), True)
    assert alarm.heading(found, row, whole - 30) == (letters.spelt("V6 LOW"), False)
    assert alarm.heading(found, row, 15) == (letters.spelt("LOW"), False)


def test_a_long_name_is_worth_more_from_afar_than_the_kind_of_its_fault() -> None:
    """Only a rating is told whatever the name: its word stays."""
    row = scenes.row("regulator", 0.2, "!!", "out, low")
    found = scenes.finding(1, "dropout", "regulator", 10, None)
    assert alarm.heading(found, row, 69) == (letters.spelt("regulator OUT"), True)
    assert alarm.heading(found, row, 45) == (letters.spelt("regulator"), True)
    assert alarm.heading(replace(found, kind="limit"), row, 45) == (letters.spelt("RATING"), False)


def test_the_third_line_counts_what_else_waits() -> None:
    """`+2 more` stands at its end."""
    found = (fault(1), fault(2, "chatter"), fault(3, "outside"))
    chosen = alarm.choose(Board(findings=found))
    assert chosen is not None
    lines = alarm.lines(glance(Board(findings=found)), chosen, True, 30)
    assert lines[2].endswith("+2 more")
    assert all(len(line) <= 30 for line in lines)


def test_after_power_off_the_wait_stands_over_every_fault_but_a_rating() -> None:
    """How long to wait is what hands need then; a passed rating is the exception."""
    off = replace(scenes.bleeding(), findings=scenes.fault().findings)
    assert "▄▀▀█" not in screen(off).splitlines()[20]
    assert "then all measured are below 30 V" in screen(off)
    rated = replace(off, findings=(fault(9, "limit"),))
    assert "rating passed" in screen(rated)


def test_without_a_later_bound_no_time_is_told() -> None:
    """WAIT, and that it can't be told."""
    board = scenes.bleeding()
    board = replace(board, hazard=replace(board.hazard, bleed=None))
    assert "how long to 30 V can't be told" in screen(board)


def test_acknowledge_stands_out_only_when_something_waits() -> None:
    """The key line of both views."""
    for board, waits in ((scenes.fault(), True), (scenes.warmup(), False)):
        for keys in (far_keys(glance(board)), near_keys(glance(board), 80)):
            assert ("a", "acknowledge", waits) in keys
