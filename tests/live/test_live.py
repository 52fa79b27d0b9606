"""Live: what the technician does reaches the timeline, the file and the board."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from benchtui.chart.chart_file import read_chart
from benchtui.chart.settings import Settings
from benchtui.live import Live
from benchtui.model.findings import Event
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Channel
from benchtui.model.units import Unit
from benchtui.port.clock import Clock
from benchtui.port.hookup import Hookup
from benchtui.port.wires import Wires
from benchtui.store.header import Header
from benchtui.store.keeper import Keeper
from benchtui.store.recording import read
from benchtui.store.replaying import Replaying
from benchtui.store.session import Session
from benchtui.watch.bank import Bank

S = 1_000_000_000
CHART = """
[set]
name = "Saltmarsh Six"
chassis = "live"
[[point]]
name = "B+1"
nominal = "285 V"
tolerance = "10 %"
limit = "350 V"
[[point]]
name = "B+2"
nominal = "240 V"
tolerance = "10 %"
[[glow]]
name = "pilot"
fed_from = "B+1"
through = "47 kohm"
strikes = "65 V .. 90 V"
holds = "50 V .. 65 V"
nominal = "lit"
seen = true
"""
CHANNELS = (Channel("meter A", "meter A"), Channel("pilot", "eye", eye=True))


class Bench:
    """A bench without wires: the eye, the hands, a needle that is typed in, on a clock that is told."""

    def __init__(self, path: Path, until_ns: int | None = None) -> None:
        self.ns = 0
        self.path = path
        clock = Clock(source=lambda: self.ns)
        hookup = Hookup((), CHANNELS, (Lead(0, 0, "B+1"), Lead(0, 1, "pilot")))
        chart = read_chart(CHART, "chart")
        self.keeper = Keeper(Session.create(path, Header(chart.name, CHANNELS, CHART)))
        self.done: list[Mark] = []
        self.wires = Wires(hookup, clock)
        self.live = Live(
            self.wires,
            Bank(chart, CHANNELS, Settings()),
            keeper=self.keeper,
            until_ns=until_ns,
            on_mark=self.done.append,
        )
        self.events: list[Event] = []

    def pass_time(self, seconds: float, volts: float | None = 285.0) -> None:
        """Time goes by, with a reading of meter A every half second."""
        for _ in range(round(seconds * 2)):
            self.ns += S // 2
            if volts is not None:
                self.wires.put_reading(0, Unit.V, volts, 0.1)
            self.live.step()
            self.events += self.live.new_events


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "a.session")


def test_a_mark_is_on_the_timeline_now_and_in_the_file(bench: Bench) -> None:
    """With its time, its words made plain, and told to whoever wants to know."""
    bench.pass_time(3)
    mark = bench.live.mark("tap", "hard\x1b[2J", "V4")
    assert mark == Mark(mark.t_ns, "tap", "hard·[2J", "V4")  # type: ignore[union-attr]
    bench.pass_time(1)
    assert mark in bench.live.board.marks
    assert bench.done == [mark]
    bench.live.close()
    assert mark in Session.read(bench.path).notes()


def test_what_the_eye_saw_is_a_reading(bench: Bench) -> None:
    """One key: lit or out; a point that has no eye takes none."""
    bench.pass_time(2)
    assert bench.live.seen("pilot", True)
    bench.pass_time(5)
    assert bench.live.seen("pilot", False)
    assert not bench.live.seen("B+1", True)
    bench.pass_time(1)
    bench.live.close()
    readings = [b.readings for b in Session.read(bench.path).blocks()]
    states = [v for r in readings for v, c in zip(r.value, r.channel, strict=True) if c == 1]
    assert states == [1.0, 0.0]


def test_a_moved_lead_moves_the_course(bench: Bench) -> None:
    """Readings after the move are of the other point, on the board and in the strip chart."""
    bench.pass_time(4, 285.0)
    assert bench.live.move_lead(0, "B+2")
    bench.pass_time(4, 240.0)
    rows = {row.point: row for row in bench.live.board.rows}
    assert rows["B+2"].value == 240.0
    before = bench.live.course("B+1", 0, 8 * S, 8)
    after = bench.live.course("B+2", 0, 8 * S, 8)
    assert before.low[1:4].tolist() == [285.0] * 3
    assert after.low[5:8].tolist() == [240.0] * 3
    assert set(before.high[~(before.high != before.high)]) == {285.0}
    bench.live.close()


def test_a_finding_is_acknowledged_alone_or_with_all_others(bench: Bench) -> None:
    """The board says so; the finding stands all the same."""
    bench.pass_time(5)
    bench.pass_time(5, 400.0)
    faults = [f.id for f in bench.live.board.findings if f.severity == "fault"]
    assert faults
    assert bench.live.board.acknowledged == frozenset()
    bench.live.acknowledge(faults[0])
    bench.pass_time(1, 400.0)
    assert bench.live.board.acknowledged == {faults[0]}
    bench.live.acknowledge(None)
    bench.pass_time(1, 400.0)
    assert set(faults) <= bench.live.board.acknowledged
    assert faults[0] in [f.id for f in bench.live.board.findings]
    bench.live.close()


def test_a_paused_live_session_goes_on_recording(bench: Bench) -> None:
    """What happens while the screen stands still is in the file."""
    bench.pass_time(2)
    bench.live.pause(True)
    bench.pass_time(2)
    assert bench.live.board.paused
    assert bench.live.board.recording
    bench.live.close()
    assert sum(len(b.readings) for b in Session.read(bench.path).blocks()) == 8


def test_a_session_ends_by_itself_after_the_time_asked_for(tmp_path: Path) -> None:
    """Not before, and not without the readings up to then."""
    bench = Bench(tmp_path / "a.session", until_ns=3 * S)
    bench.pass_time(2.5)
    assert not bench.live.done
    bench.pass_time(0.5)
    assert bench.live.done
    bench.live.close()
    assert Session.read(bench.path).watermark_ns() == 3 * S


def test_the_clocks_are_written_down_together_each_minute(bench: Bench) -> None:
    """At the start and then every minute of the timeline."""
    bench.pass_time(130)
    bench.live.close()
    pairs = Session.read(bench.path).clock()
    assert [t // (60 * S) for t, _ in pairs] == [0, 1, 2]
    assert all(later[1] >= earlier[1] for earlier, later in pairwise(pairs))


def test_a_full_disk_is_shown_and_the_eyes_stay_open(bench: Bench) -> None:
    """Readings go on being judged; the board no longer says that it records; nothing raises."""
    session = bench.keeper._session
    pages = session._db.execute("PRAGMA page_count").fetchone()[0]
    session._db.execute(f"PRAGMA max_page_count = {pages}")
    for _ in range(600):
        bench.pass_time(20)
        if bench.live.trouble is not None:
            break
    bench.pass_time(1)
    assert "full" in str(bench.live.trouble)
    assert not bench.live.board.recording
    bench.pass_time(5, 400.0)
    assert any(f.kind == "limit" for f in bench.live.board.findings)
    session._db.execute("PRAGMA max_page_count = 1000000")
    bench.live.close()
    assert bench.live.trouble is None
    kept = sum(len(b.readings) for b in Session.read(bench.path).blocks())
    assert kept == bench.live.upto_ns // (S // 2)


def test_a_replay_takes_no_marks_and_pauses(bench: Bench) -> None:
    """It is shown as it was; only time can be stopped."""
    bench.pass_time(10)
    bench.live.close()
    now = [0]
    recording = read(bench.path)
    live = Live(
        Replaying(recording, lambda: now[0]), Bank(recording.chart, recording.channels, recording.settings)
    )
    now[0] = 2 * S
    live.step()
    assert live.board.replaying
    assert live.mark("tap") is None
    assert not live.seen("pilot", True)
    assert not live.move_lead(0, None)
    live.pause(True)
    now[0] = 100 * S
    live.step()
    assert live.upto_ns == 2 * S
    live.set_speed(2.0)
    live.pause(False)
    now[0] = 103 * S
    live.step()
    assert live.upto_ns == 8 * S
    assert live.board.fast == 2.0
    now[0] = 200 * S
    live.step()
    assert live.done
    assert live.trouble is None
