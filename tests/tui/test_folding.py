"""What happens again and again is one line that counts: in the bar, in the list, and for the keys."""

from __future__ import annotations

from dataclasses import replace

from benchtui.model.findings import Finding
from benchtui.tui.draw import alarm, bottombar, folding, listing
from benchtui.tui.draw.far import draw_far
from benchtui.tui.draw.glance import Glance
from benchtui.tui.draw.near import Chosen, draw_near
from benchtui.tui.screens.evidence import told
from benchtui.watch.board import Board

from . import scenes
from .fake_live import FakeLive
from .test_app import running

SECONDS = (20, 65, 130, 751)


def outs(*numbers: int, kind: str = "dropout", point: str = "pilot") -> tuple[Finding, ...]:
    """The lamp went out at these of SECONDS, for two seconds each."""
    return tuple(scenes.finding(n, kind, point, SECONDS[n], SECONDS[n] + 2) for n in numbers)


def board(*findings: Finding, known: tuple[int, ...] = ()) -> Board:
    of = scenes.fault()
    return replace(of, at_ns=(scenes.ON_S + 800) * scenes.S, findings=findings, acknowledged=frozenset(known))


def near(of: Board) -> list[str]:
    return draw_near(120, 36, Glance(of, scenes.say), Chosen(), scenes.nothing).lines()


def test_a_lamp_that_goes_out_again_is_told_once_with_the_count() -> None:
    """In the bar from afar, in the row of the near view, and in its list, with the time of the last."""
    of = board(*outs(0, 1, 2, 3))
    far = "\n".join(draw_far(120, 36, Glance(of, scenes.say), scenes.nothing).lines())
    assert "went out 4 times, last at 12:31" in far
    assert "more" not in far
    lines = near(of)
    assert "pilot went out 4 times, last at 12:31" in lines[1]
    listed = [line for line in lines[2:] if "4 times, last at 12:31; -96 V for 0.4 s" in line]
    assert len(listed) == 1
    assert "dropout" in listed[0]


def test_one_alone_is_told_as_before() -> None:
    """Nothing is counted that happened once."""
    of = board(*outs(3))
    assert "times" not in "\n".join(near(of))
    assert folding.said(Glance(of, scenes.say), folding.Fold(outs(3)[0])) == ""


def test_other_kinds_points_and_runs_are_told_apart() -> None:
    """Each point, each kind, each run for itself; news is never folded."""
    before = (
        scenes.finding(7, "power_on", None, -500, -500),
        scenes.finding(8, "dropout", "pilot", -400, -399),
    )
    of = board(
        *before,
        scenes.finding(9, "power_on", None, 0, 0),
        *outs(0, 1),
        *outs(2, kind="chatter"),
        *outs(3, point="B+1"),
    )
    folds = {(f.shown.kind, f.shown.point, f.shown.id): f.times for f in listing.ordered(of)}
    assert folds == {
        ("dropout", "pilot", 1): 2,
        ("chatter", "pilot", 2): 1,
        ("dropout", "B+1", 3): 1,
        ("dropout", "pilot", 8): 1,
        ("power_on", None, 7): 1,
        ("power_on", None, 9): 1,
    }


def test_one_that_stands_is_shown_before_a_newer_one_that_is_over() -> None:
    """What is wrong now is never hidden behind what was."""
    stands = replace(outs(0)[0], end_ns=None)
    of = board(stands, *outs(1, 2))
    chosen = alarm.choose(of)
    assert chosen is not None
    assert (chosen.finding.id, chosen.fold.times, chosen.more) == (0, 3, 0)


def test_the_count_holds_also_those_that_were_acknowledged() -> None:
    """The fourth time is the fourth time; only what waits is counted as waiting."""
    of = board(*outs(0, 1, 2, 3), known=(0, 1))
    chosen = alarm.choose(of)
    assert chosen is not None
    assert (chosen.finding.id, chosen.fold.times, chosen.more) == (3, 4, 0)


def test_in_a_quiet_bar_the_count_stands_too() -> None:
    """Acknowledged: `found` names the last one with its count."""
    of = board(*outs(0, 1, 2, 3), known=(0, 1, 2, 3))
    assert bottombar._found(Glance(of, scenes.say), 100) == (
        "went out 4 times, last at 12:31; -96 V for 0.4 s, 3 s after tap"
    )


def test_a_narrow_bar_keeps_the_count_and_the_time() -> None:
    """What was done goes before how often and when; of an earlier run it is said which."""
    of = board(*outs(0, 1, 2, 3))
    chosen = alarm.choose(of)
    assert chosen is not None
    for most, first in ((40, "went out 4 times, last at 12:31"), (28, "4 times, last at 12:31")):
        assert alarm.lines(Glance(of, scenes.say), chosen, True, most)[0] == first
    later = board(*outs(0, 1), scenes.finding(9, "power_on", None, 70, 70))
    assert "last at 1:05 of run 1" in near(later)[1]


def test_the_sheet_of_a_finding_tells_when_each_was() -> None:
    """All its times, in order."""
    of = board(*outs(0, 1, 2, 3))
    assert told(outs(2)[0], of)[0] == ("in its run", "4 times: 0:20, 1:05, 2:10, 12:31")


async def test_one_key_acknowledges_all_that_are_told_as_one() -> None:
    """With what each of them explains."""
    explained = tuple(
        replace(f, kind="fed_but_out", id=f.id + 10, evidence={"of": f.id}) for f in outs(0, 1, 2)
    )
    live = FakeLive([board(*outs(0, 1, 2), *explained)])
    async with running(live) as (_, pilot):
        await pilot.press("a")
        await pilot.pause()
    assert live.acknowledged == {0, 1, 2, 10, 11, 12}


async def test_the_list_is_walked_by_what_it_shows() -> None:
    """From fold to fold; a newer one of the same kind keeps the choice where it was."""
    live = FakeLive([board(*outs(0, 1, 2), *outs(3, point="B+1"))])
    async with running(live) as (app, pilot):
        await pilot.press("v", "f", "f")
        await pilot.pause()
        chosen = app.dashboard.near.finding(app.dashboard.board)
        assert chosen is not None
        assert (chosen.point, chosen.id) == ("pilot", 2)
