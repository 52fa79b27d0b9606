"""What the screen minds by itself: power that is on already, new faults, marks that nobody can make."""

from __future__ import annotations

from dataclasses import replace

from benchtui.model.findings import Finding
from benchtui.tui.screens.evidence import told
from benchtui.watch.board import Board

from . import odd_scenes, scenes
from .fake_live import FakeLive
from .test_app import running, sheet, text, until


async def test_the_cautions_say_first_that_the_power_is_on_if_it_is() -> None:
    """Title and reading; before that they stand before the power."""
    async with running(FakeLive([scenes.fault()]), cautions=True) as (app, pilot):
        await until(pilot, lambda: "POWER IS ON   B+1 reads 284 V" in sheet(app))
        assert "BEFORE THE POWER" not in sheet(app)
    async with running(FakeLive([odd_scenes.cold()]), cautions=True) as (app, _):
        assert "BEFORE THE POWER COMES ON" in sheet(app)


async def test_a_replay_says_at_once_that_it_takes_no_marks() -> None:
    """Space alone, without the question what was done."""
    async with running(FakeLive([replace(scenes.fault(), replaying=True)])) as (app, pilot):
        await pilot.press("space")
        assert app.screen is app.dashboard
        assert "a replay takes no marks" in text(app)


def two() -> Board:
    """Two faults wait: the pilot's and an older one of the screen."""
    return replace(scenes.fault(), acknowledged=frozenset({1}))


async def test_f_shows_the_other_fault_in_the_bar_and_a_takes_that_one() -> None:
    """What is acknowledged is what is shown."""
    live = FakeLive([two()])
    async with running(live) as (app, pilot):
        assert "fed but out at 4:07" in text(app)
        await pilot.press("f")
        assert "outside at 3:31" in text(app)
        await pilot.press("a")
        assert ("acknowledge", 2) in live.asked


async def test_the_list_goes_to_a_new_fault_unless_the_person_is_browsing() -> None:
    """Just after a key of the list it stays where it is."""
    new = scenes.finding(9, "outside", "regulator", 252, None)
    later = replace(two(), findings=(*two().findings, new))
    boards = [two()]
    live = FakeLive(lambda: boards[-1])
    async with running(live) as (app, pilot):
        await pilot.press("v", "f", "f")
        chosen = app.dashboard.near.chosen.finding
        boards.append(later)
        app.step()
        assert app.dashboard.near.chosen.finding == chosen
        app.dashboard._browsing = 0
        boards.append(replace(later, findings=(*later.findings, replace(new, id=10))))
        app.step()
        assert app.dashboard.near.chosen.finding is None


def lines(finding: Finding) -> dict[str, str]:
    return dict(told(finding, scenes.fault()))


def test_evidence_is_told_in_units_and_names() -> None:
    """Kilohms, a span of volts, findings by their point, marks by their kind: no bare number of a program."""
    known = scenes.finding(4, "fed_but_out", "pilot", 247, None, through=120e3, of=[1], unit="state")
    said = lines(known)
    assert said["through"] == "120 kohm"
    assert said["holds at"] == "50 to 65 V"
    assert said["explains"] == "B+1's dropout at 2:11"
    fell = lines(
        scenes.finding(1, "dropout", "B+1", 131, 131.4, also=["B+2", "screen"], mains=0.998, unit="V")
    )
    assert fell["moved by"] == "-96 V"
    assert fell["followed"] == "tap V6 at 2:08"
    assert fell["moved too"] == "B+2, screen"
    assert fell["mains"] == "99.8 % of what the chart assumes"
    assert not any("e+" in text or "[" in text for text in (*said.values(), *fell.values()))
