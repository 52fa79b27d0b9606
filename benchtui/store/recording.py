"""Anything that was recorded, as one thing: a session, a wire log or a CSV file, told apart by content."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from benchtui.chart.bench import Bench
from benchtui.chart.chart import Chart, Point
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.notes import Mark
from benchtui.model.readings import Channel

from .blocks import cut, gathered, until, with_notes
from .csv import read_readings
from .given import Given
from .kinds import kind_of
from .session import Session

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
ROWS = 65_536
"""Readings in a block, where there are enough."""


@dataclass(frozen=True, slots=True)
class Recording:
    """One timeline that is over, or the part of it that is known, with what it is to be judged by."""

    path: Path
    kind: str
    """session, wire log or CSV."""
    chart: Chart
    bench: Bench
    settings: Settings
    channels: tuple[Channel, ...]
    started: datetime | None
    """The time of day at t_ns = 0; None where unknown."""
    upto_ns: int
    """The last watermark. Of a wire log that was cut off: about."""
    play: Callable[[], Iterator[Block]]
    remarks: list[str] = field(default_factory=list)
    """What a person should know of the file (rows sorted, lines left out); grows while it is played."""

    def blocks(self, rows: int = ROWS, until_ns: int | None = None) -> Iterator[Block]:
        """The timeline from its beginning, in blocks of about `rows` readings; can be asked for again.

        With `until_ns` as if nothing later were known: the last watermark is then at most that.
        """
        blocks = self.play()
        return gathered(blocks if until_ns is None else until(blocks, until_ns), rows)


def read(
    path: Path,
    chart: Chart | None = None,
    bench: Bench | None = None,
    settings: Settings | None = None,
    marks: Sequence[Mark] = (),
    overrides: Mapping[str, str] | None = None,
    at: Callable[[int], None] = lambda _: None,
) -> Recording:
    """Opens a recording; what is given replaces what it carries, and the marks are added to its own.

    `overrides` are single settings, by their key in a settings file. `at` is told of the bytes that have been
    read, where opening takes long.

    Raises:
        SessionError: it cannot be read, or is none of the three.
        ChartError: the chart, bench or settings that it carries have mistakes.
        DriverError: a wire log needs a driver that is not there.
    """
    given = Given(chart, bench, settings, overrides or {})
    opened = {"session": _session, "wire log": _wire_log, "CSV": _csv}[kind_of(path)]
    recording = opened(path, given, at)
    if bench is not None:
        recording = replace(recording, channels=_described(recording.channels, bench))
    if marks:
        plain_play, notes = recording.play, tuple(marks)
        upto_ns = max(recording.upto_ns, *(mark.t_ns for mark in marks))
        recording = replace(recording, upto_ns=upto_ns, play=lambda: with_notes(plain_play(), notes))
    return recording


def _session(path: Path, given: Given, _: Callable[[int], None]) -> Recording:
    session = Session.read(path)
    try:
        header, upto_ns = session.header(), session.watermark_ns()
    finally:
        session.close()
    chart, bench, settings = given.or_of(header, path)

    def blocks() -> Iterator[Block]:
        session = Session.read(path)
        try:
            yield from session.blocks()
        finally:
            session.close()

    return Recording(
        path=path,
        kind="session",
        chart=chart,
        bench=bench,
        settings=settings,
        channels=header.channels,
        started=_wall(header.started_wall_ns),
        upto_ns=upto_ns,
        play=blocks,
    )


def _wire_log(path: Path, given: Given, _: Callable[[int], None]) -> Recording:
    from .wireplay import last_time, play

    player = play(path)
    header = player.header
    chart, bench, settings = given.or_of(header, path)
    remarks: list[str] = []

    def blocks() -> Iterator[Block]:
        nonlocal player
        playing, player = player, None  # type: ignore[assignment]
        playing = playing or play(path)
        yield from playing.blocks()
        remarks[:] = [str(problem) for problem in playing.problems]
        if playing.cut:
            remarks.append(f"{path}: the recording was cut off; what there is of it is whole")

    return Recording(
        path=path,
        kind="wire log",
        chart=chart,
        bench=bench,
        settings=settings,
        channels=header.channels,
        started=_time(header.started),
        upto_ns=last_time(path),
        play=blocks,
        remarks=remarks,
    )


def _csv(path: Path, given: Given, at: Callable[[int], None]) -> Recording:
    table = read_readings(path, at)
    readings = table.readings
    upto_ns = int(readings.t_ns[-1])
    remarks = []
    if table.moved:
        rows = "1 row was" if table.moved == 1 else f"{table.moved} rows were"
        remarks.append(f"{path}: {rows} not in the order of time: sorted")
    if table.cut:
        remarks.append(f"{table.cut}; the file ends in the middle of that line: judged up to it")
    return Recording(
        path=path,
        kind="CSV",
        chart=given.chart or Chart(name="", points=tuple(Point(name, unit) for name, unit in table.points)),
        bench=given.bench or Bench(),
        settings=given.settings_or("", ""),
        channels=table.channels,
        started=None,
        upto_ns=upto_ns,
        play=lambda: cut(readings, table.leads, upto_ns, ROWS),
        remarks=remarks,
    )


def _described(channels: Sequence[Channel], bench: Bench) -> tuple[Channel, ...]:
    """The channels with what the bench says of their meters, or, in a CSV file without meters, points."""
    entries = {entry.point: entry for entry in bench.meters if entry.point}
    entries.update({entry.name: entry for entry in bench.meters})
    return tuple(
        replace(channel, accuracy=entry.accuracy, input_resistance=entry.resistance_on(entry.range))
        if (entry := entries.get(channel.meter))
        else channel
        for channel in channels
    )


def _wall(unix_ns: int | None) -> datetime | None:
    return None if unix_ns is None else EPOCH + timedelta(microseconds=unix_ns // 1000)


def _time(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None
