"""Live = replay = judge: the same findings to the last digit, at any speed and in any cuts."""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path

import pytest

from benchtui.chart.chart_file import read_chart
from benchtui.chart.settings import Settings
from benchtui.cli.judge import judged
from benchtui.live import Live
from benchtui.model.block import Block
from benchtui.model.findings import Event
from benchtui.model.readings import Channel
from benchtui.sim.simulate import simulate
from benchtui.store.header import Header
from benchtui.store.keeper import Keeper
from benchtui.store.recording import read
from benchtui.store.replaying import Replaying
from benchtui.store.session import Session
from benchtui.watch.bank import Bank

from .made import CutSource, told

LOGS = Path(__file__).parents[2] / "replay_logs"
LONG = pytest.mark.long
CASES = [
    *(pytest.param(path, id=path.stem) for path in sorted(LOGS.glob("*.jsonl"))),
    pytest.param((2, ["pilot_aged"], 130.0), id="a pilot"),
    pytest.param((1, [], 400.0), id="nothing wrong", marks=LONG),
    pytest.param((5, ["dropper_blinks"], 400.0), id="a dropper that blinks", marks=LONG),
    pytest.param((6, ["regulator_joint", "pilot_aged"], 600.0), id="two faults", marks=LONG),
]
"""Every replay log; and seed, faults and seconds of simulated sessions."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A session that was recorded live, and what was said then."""

    path: Path
    live: list[str]
    whole: Block
    chart_text: str
    channels: tuple[Channel, ...]


def run(live: Live) -> list[Event]:
    """All events of a session, to its end; the board is looked at now and then, which changes nothing."""
    events: list[Event] = []
    steps = 0
    while not live.done:
        live.advance()
        events += live.new_events
        steps += 1
        if steps % 20 == 0:
            assert live.board.at_ns <= live.upto_ns
    live.close()
    return events + live.new_events


@pytest.fixture(scope="module", params=CASES)
def recorded(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Recorded:
    """The Saltmarsh Six for some minutes, live in random cuts, kept in a file."""
    if isinstance(request.param, Path):
        log = read(request.param)
        whole, chart_text, channels, seed = next(log.blocks(rows=10**9)), log.chart.text, log.channels, 3
    else:
        seed, faults, seconds = request.param
        made = simulate(seed, faults, seconds, 2.0)
        whole, chart_text, channels = made.block(), made.chart_text, made.channels
    path = tmp_path_factory.mktemp("live") / "a.session"
    bank = Bank(read_chart(chart_text, "chart"), channels, Settings())
    keeper = Keeper(Session.create(path, Header("Saltmarsh Six", channels, chart_text)))
    events = run(Live(CutSource(whole, seed, 0.3), bank, keeper=keeper))
    assert len(events) > 5
    return Recorded(path, told(events), whole, chart_text, channels)


def test_the_file_holds_what_was_said_live(recorded: Recorded) -> None:
    """The log of events in the session is the log that the screen was drawn from."""
    assert told(Session.read(recorded.path).events()) == recorded.live


@pytest.mark.parametrize("path", sorted(LOGS.glob("*.jsonl")), ids=lambda path: path.stem)
def test_a_wire_log_and_its_session_say_the_same(path: Path, tmp_path: Path) -> None:
    """Bytes through the drivers again, or readings from the file: the same events."""
    log = read(path)
    _, events = judged(log, None)
    session = Session.create(tmp_path / "a.session", Header("set", log.channels, log.chart.text))
    with session.atomic():
        for block in log.blocks(rows=100):
            session.add(block)
    session.close()
    _, again = judged(read(tmp_path / "a.session"), None)
    assert told(again) == told(events)


def test_judging_the_file_says_the_same(recorded: Recorded) -> None:
    """Chart, settings and readings come from the file alone."""
    _, events = judged(read(recorded.path), None)
    assert told(events) == recorded.live


@pytest.mark.parametrize("speed", [0.7, 1.0, 33.0, 1e6])
def test_replaying_the_file_says_the_same(recorded: Recorded, speed: float) -> None:
    """At any speed, stepped at odd moments."""
    chosen = random.Random(f"{speed}")
    now = [0]

    def tick() -> int:
        now[0] += int(chosen.expovariate(1 / 2e9) / speed) + 1
        return now[0]

    recording = read(recorded.path)
    bank = Bank(recording.chart, recording.channels, recording.settings)
    assert told(run(Live(Replaying(recording, tick, speed), bank))) == recorded.live


@pytest.mark.parametrize("seed", range(4))
def test_no_cut_changes_what_is_said(recorded: Recorded, seed: int) -> None:
    """A few readings at a time, in bursts, or nearly all at once."""
    bank = Bank(read_chart(recorded.chart_text, "chart"), recorded.channels, Settings())
    mean_s = (0.25, 2.0, 15.0, 100.0)[seed]
    assert told(run(Live(CutSource(recorded.whole, seed, mean_s), bank))) == recorded.live


def test_until_a_time_says_what_was_said_by_then(recorded: Recorded) -> None:
    """Prefix law: the log up to T is the log of a judgement that knows nothing after T."""
    recording = read(recorded.path)
    times = [int(line.split()[1]) for line in recorded.live]
    chosen = random.Random(1)
    for end_ns in [*chosen.sample(range(recording.upto_ns), 4), times[2], times[-1] - 1]:
        _, events = judged(recording, end_ns)
        assert told(events) == [line for line, at in zip(recorded.live, times, strict=True) if at <= end_ns]
