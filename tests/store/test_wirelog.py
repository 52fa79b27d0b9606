"""The wire log: what was live is what is played, byte for byte; damage costs no more than itself."""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from benchtui.chart.bench import SerialSettings
from benchtui.driver.description import MeterDescription
from benchtui.model.block import Block
from benchtui.model.errors import DriverError, SessionError
from benchtui.model.notes import Lead, Mark, Trouble
from benchtui.model.readings import Accuracy, Channel, Readings
from benchtui.model.units import Unit
from benchtui.port.clock import Clock
from benchtui.port.hookup import Hookup
from benchtui.port.intake import WireSink
from benchtui.store.wirelog import Header, WireLog
from benchtui.store.wireplay import is_wire_log, play
from tests.peers import scpi_meter
from tests.port.cables import Cable, Session, meter, session

HEADER = Header(
    started="1957-03-01T20:00:00+01:00",
    channels=(
        Channel("A", "A", Accuracy(0.0005, 3, 0.0), 1e7),
        Channel("pilot", "eye", eye=True),
    ),
    meters=(MeterDescription("A", "lines", Unit.V, {"repeats": 1}, "/dev/ttyX", (0,)),),
    chart='[set]\nname = "Saltmarsh Six"\n',
    bench="# Ω\n",
    settings="",
    versions={"benchtui": "0.1.0"},
)


def _columns(blocks: list[Block]) -> list[bytes]:
    joined = Readings.joined([b.readings for b in blocks])
    return [getattr(joined, name).tobytes() for name in Readings.__slots__]


def _notes(blocks: list[Block]) -> list[object]:
    return [n for b in blocks for n in b.notes]


def _logged(path: Path) -> Callable[[Hookup, Clock], WireSink]:
    def log(hookup: Hookup, clock: Clock) -> WireSink:
        descriptions = tuple(m.description for m in hookup.meters)
        return WireLog(path, Header(clock.started.isoformat(), hookup.channels, descriptions))

    return log


def _same(live: Session, path: Path) -> None:
    """What was drained is what is played."""
    player = play(path)
    played = list(player.blocks())
    assert _columns(played) == _columns(live.blocks)
    assert _notes(played) == _notes(live.blocks)
    assert (player.problems, player.cut) == ([], False)
    assert played[-1].upto_ns == live.blocks[-1].upto_ns
    uptos = [b.upto_ns for b in played]
    assert uptos == sorted(uptos)


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")
def test_live_is_replay_with_text_meters(tmp_path: Path) -> None:
    """Half lines, garbage, a pulled cable, marks, a moved lead and the eye: the same to the last bit."""
    path = tmp_path / "wire.jsonl"
    a, b = Cable(tmp_path / "a"), Cable(tmp_path / "b")
    rng = random.Random(3)
    entries = (
        meter("A", a.name),
        meter("B", b.name, request="D", every=0.02, serial=SerialSettings(baud=19200)),
    )
    with session(*entries, log=_logged(path)) as live:
        for n in range(40):
            whole = b"%d.%d V DC\r\n" % (rng.randrange(200, 300), n % 10)
            cut = rng.randrange(len(whole))
            a.send(whole[:cut])
            if n % 9 == 0:
                a.send(b"\x00\xff\x1b[2J")
            a.send(whole[cut:])
            b.heard()
            b.send(b"%d.5 mV\r" % n)
            live.drain()
            if n == 10:
                live.wires.put_note(Mark(0, "tap", "with the \x1b[2J handle", "V3"))
            if n == 20:
                live.wires.put_note(Lead(0, 1, None))
                live.wires.put_reading(0, Unit.STATE, 1.0)
            if n == 25:
                a.unplug()
                live.until(lambda: bool(live.troubles("lost")))
                a.plug()
                live.until(lambda: bool(live.troubles("back")))
        live.until(lambda: live.values.count(0.0395) == 1)
    _same(live, path)
    assert len(live.values) > 60
    assert live.troubles("garbled")
    a.unplug()
    b.unplug()


def test_live_is_replay_with_a_scpi_meter(tmp_path: Path) -> None:
    """Questions, deadlines, late answers and refusals: every due tick is in the log."""
    path = tmp_path / "wire.jsonl"
    answers = [f"{n}.5" for n in range(100)]
    with scpi_meter(answers, slow_s=0.05) as port:
        entry = meter("A", port, "scpi", measures=Unit.OHM, every=0.01, answer_within=0.04)
        with session(entry, log=_logged(path)) as live:
            live.until(lambda: len(live.values) >= 10)
        with session(meter("A", port, "scpi", every=0.01), log=_logged(tmp_path / "2")) as other:
            other.until(lambda: len(other.values) >= 10)
    _same(live, path)
    _same(other, tmp_path / "2")
    assert live.troubles("driver")


def _write(path: Path, *lines: str) -> Path:
    path.write_text("\n".join([HEADER.as_line(), *lines]) + "\n", encoding="utf-8")
    return path


def _rx(t_ns: int, text: bytes) -> str:
    return json.dumps({"t_ns": t_ns, "meter": "A", "dir": "rx", "hex": text.hex()})


def _event(t_ns: int, event: str, meter: str = "A") -> str:
    return json.dumps({"t_ns": t_ns, "meter": meter, "dir": "event", "hex": "", "event": event, "text": ""})


LINES = [_event(1, "start"), _rx(2, b"\n1.5\n"), _rx(3, b"2.5\n"), _rx(5, b"3.5\n"), _event(9, "end", "")]


def test_the_header_is_written_and_read(tmp_path: Path) -> None:
    """Channels, meters with their options, the texts of chart, bench and settings."""
    path = tmp_path / "wire.jsonl"
    WireLog(path, HEADER).end(5)
    assert play(path).header == HEADER
    assert is_wire_log(path)
    assert [b.upto_ns for b in play(path).blocks()] == [5]


def test_lines_need_not_stand_in_the_order_of_time(tmp_path: Path) -> None:
    """Threads write as they come; the watermark lines say how far the log is whole."""
    shuffled = [LINES[1], LINES[3], LINES[0], LINES[2], LINES[4]]
    straight = list(play(_write(tmp_path / "a", *LINES)).blocks())
    mixed = list(play(_write(tmp_path / "b", *shuffled)).blocks())
    assert _columns(mixed) == _columns(straight)
    assert straight[0].readings.value.tolist() == [1.5, 2.5, 3.5]


@pytest.mark.parametrize(
    "damaged",
    [
        "{",
        "[]",
        "null",
        '{"t_ns": -1, "meter": "A", "dir": "rx", "hex": ""}',
        '{"t_ns": 1.5, "meter": "A", "dir": "rx", "hex": ""}',
        '{"t_ns": true, "meter": "A", "dir": "rx", "hex": ""}',
        '{"t_ns": 99999999999999999999, "meter": "A", "dir": "rx", "hex": ""}',
        '{"t_ns": 4, "meter": "nobody", "dir": "rx", "hex": ""}',
        '{"t_ns": 4, "meter": "A", "dir": "rx", "hex": "0g"}',
        '{"t_ns": 4, "meter": "A", "dir": "rx", "hex": 5}',
        '{"t_ns": 4, "meter": ["A"], "dir": "rx", "hex": ""}',
        '{"t_ns": 4, "meter": "A", "dir": "sideways", "hex": ""}',
        '{"t_ns": 4, "note": {"kind": "mark", "mark": "kick", "note": "", "what": ""}}',
        '{"t_ns": 4, "note": {"kind": "lead", "channel": 7, "point": "x"}}',
        '{"t_ns": 4, "note": {"kind": "reading", "channel": 1, "unit": "V", "value": 1, '
        '"resolution": 0, "flags": 999}}',
        "\x00\x1b[2J",
        "[" * 100_000,
    ],
)  # fmt: skip
def test_a_damaged_line_is_told_with_its_number_and_left_out(tmp_path: Path, damaged: str) -> None:
    """The lines before and behind it are played."""
    player = play(_write(tmp_path / "a", *LINES[:3], damaged, *LINES[3:]))
    blocks = list(player.blocks())
    assert [v for b in blocks for v in b.readings.value.tolist()] == [1.5, 2.5, 3.5]
    assert [p.line for p in player.problems] == [5]
    assert "\x1b" not in str(player.problems[0])


def test_a_line_behind_its_watermark_is_left_out(tmp_path: Path) -> None:
    """What was handed out is not added to."""
    player = play(_write(tmp_path / "a", *LINES[:3], _event(4, "upto", ""), _rx(4, b"9.9\n"), *LINES[3:]))
    assert [v for b in player.blocks() for v in b.readings.value.tolist()] == [1.5, 2.5, 3.5]
    assert [p.line for p in player.problems] == [6]


def test_a_log_cut_off_anywhere_plays_up_to_the_cut(tmp_path: Path) -> None:
    """At every byte behind the header: no error, the readings are a beginning of the whole ones."""
    whole = _write(tmp_path / "a", *LINES).read_bytes()
    first = whole.index(b"\n") + 1
    for end in range(first, len(whole)):
        path = tmp_path / "cut"
        path.write_bytes(whole[:end])
        player = play(path)
        values = [v for b in player.blocks() for v in b.readings.value.tolist()]
        assert values == [1.5, 2.5, 3.5][: len(values)]
        assert player.problems == []
        assert player.cut is (end < len(whole) - 1)


def test_what_is_no_wire_log_is_said(tmp_path: Path) -> None:
    """An empty file, another file, a later version, a damaged header, a driver that is not there, no file."""
    for text, why in (
        ("", "no wire log"),
        ("t_s,point,value\n", "no wire log"),
        ('{"format": "benchtui wire log", "version": 99}\n', "version 99"),
        ('{"format": "benchtui wire log", "version": 1}\n', "header .* is damaged"),
        ("\x1b[2J", "no wire log"),
    ):
        (tmp_path / "x").write_text(text)
        with pytest.raises(SessionError, match=why):
            play(tmp_path / "x")
    with pytest.raises(SessionError, match="cannot be read"):
        play(tmp_path / "none")
    (tmp_path / "y").write_text(HEADER.as_line().replace('"lines"', '"gone"') + "\n")
    with pytest.raises(DriverError, match='no driver "gone"'):
        play(tmp_path / "y")


def test_a_wire_log_never_overwrites_a_file(tmp_path: Path) -> None:
    """What was recorded stays."""
    (tmp_path / "x").write_text("precious")
    with pytest.raises(SessionError, match="exists already"):
        WireLog(tmp_path / "x", HEADER)
    assert (tmp_path / "x").read_text() == "precious"
    with pytest.raises(SessionError, match="cannot be written"):
        WireLog(tmp_path / "no" / "x", HEADER)


@pytest.mark.skipif(sys.platform == "win32", reason="a limit on the size of files")
def test_a_full_disk_stops_the_log_and_nothing_else(tmp_path: Path) -> None:
    """No call raises; what went wrong is told, and what was written before can be played."""
    import resource

    log = WireLog(tmp_path / "x", HEADER)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, before[1]))
    try:
        for n in range(1000):
            log.rx(n, "A", b"\n1.5\n" * 100)
        log.end(1000)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert "the wire log ends here" in log.problem
    player = play(tmp_path / "x")
    assert sum(len(b.readings) for b in player.blocks()) > 1000
    assert (player.problems, player.cut) == ([], True)


def test_notes_are_written_and_read(tmp_path: Path) -> None:
    """Marks, leads, trouble and what the eye saw, with every sign that a person types."""
    path = tmp_path / "x"
    log = WireLog(path, HEADER)
    notes = [
        Lead(0, 0, "B+1"),
        Mark(1, "tap", 'said "Ω" \n and left', "V3"),
        Trouble(2, "A", "garbled", "x", 7),
        Lead(4, 0, None),
    ]
    for note in notes:
        log.note(note)
    log.reading(3, 1, int(Unit.STATE), 1.0, 0.0, 0)
    log.end(9)
    (block,) = play(path).blocks()
    assert [type(n) for n in block.notes] == [type(n) for n in notes]
    assert block.notes[1] == Mark(1, "tap", 'said "Ω" · and left', "V3")
    assert (block.notes[0], block.notes[2], block.notes[3]) == (notes[0], notes[2], notes[3])
    assert (block.readings.t_ns.tolist(), block.readings.channel.tolist()) == ([3], [1])
