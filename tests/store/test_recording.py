"""A recording is told by what it holds, not by its name, and carries all that it is judged by."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart_file import read_chart
from benchtui.model.block import Block
from benchtui.model.errors import SessionError
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Channel, Readings
from benchtui.model.units import Unit
from benchtui.store.header import Header
from benchtui.store.recording import read
from benchtui.store.session import Session

from .made import same_readings, steady

CHART = '[set]\nname = "Saltmarsh Six"\n[[point]]\nname = "B+1"\nnominal = "285 V"\ntolerance = "10 %"\n'
BENCH = """[[meter]]
name = "{0}"
driver = "lines"
port = "/dev/null"
accuracy = "1 %"
input_resistance = "10 Mohm"
"""


def session(path: Path) -> Path:
    """A short session of one meter."""
    header = Header("Saltmarsh Six", (Channel("m", "m"),), CHART, settings='warn_above = "40 V"\n')
    made = Session.create(path, header)
    with made.atomic():
        made.add(Block(steady(100), (Lead(0, 0, "B+1"),), 5 * 10**9))
    made.close()
    return path


def test_each_kind_is_told_by_its_content(tmp_path: Path) -> None:
    """A session and a CSV file under the wrong name are still what they are."""
    (tmp_path / "r.session").write_text("t_s,point,value,unit,flag\n0,B+1,1,V,\n")
    assert read(tmp_path / "r.session").kind == "CSV"
    assert read(session(tmp_path / "s.csv")).kind == "session"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\xff\xfet\0_\0", "UTF-16"),
        (b"\x7fELF\0\0", "no session, no wire log and no CSV"),
        (b"{}\n", "wire log"),
    ],
)
def test_anything_else_is_an_error_for_a_person(tmp_path: Path, content: bytes, words: str) -> None:
    """A spreadsheet's own text, a program, JSON of another kind."""
    path = tmp_path / "thing"
    path.write_bytes(content)
    with pytest.raises(SessionError, match=words):
        read(path)
    with pytest.raises(SessionError, match="cannot be read"):
        read(tmp_path / "nothing")


def test_a_session_carries_its_chart_and_settings(tmp_path: Path) -> None:
    """No other file is needed to judge it again."""
    recording = read(session(tmp_path / "a.session"))
    assert recording.chart.name == "Saltmarsh Six"
    assert recording.settings.warn_above == 40.0
    assert recording.upto_ns == 5 * 10**9
    blocks = list(recording.blocks())
    assert len(blocks) == 1
    assert same_readings(blocks[0].readings, steady(100))
    assert same_readings(next(recording.blocks()).readings, steady(100))


def test_what_is_given_replaces_what_it_carries(tmp_path: Path) -> None:
    """Another chart, another bench, a single setting: a second judgement."""
    path = session(tmp_path / "a.session")
    chart = read_chart(CHART.replace("285", "300"), "other")
    bench = read_bench(BENCH.format("m"), "bench")
    recording = read(path, chart=chart, bench=bench, overrides={"warn_above": "50V"})
    point = recording.chart.point("B+1")
    assert point is not None
    assert point.nominal == 300.0
    assert recording.settings.warn_above == 50.0
    assert recording.channels[0].input_resistance == 10e6
    assert recording.channels[0].accuracy is not None


def test_marks_that_are_given_join_its_own(tmp_path: Path) -> None:
    """In their order of time; a mark after the end extends what is known."""
    recording = read(
        session(tmp_path / "a.session"), marks=(Mark(7 * 10**9, "off"), Mark(10**9, "tap", "hard"))
    )
    notes = [note for block in recording.blocks() for note in block.notes]
    assert notes == [Lead(0, 0, "B+1"), Mark(10**9, "tap", "hard"), Mark(7 * 10**9, "off")]
    assert recording.upto_ns == 7 * 10**9


def test_a_csv_file_needs_no_chart(tmp_path: Path) -> None:
    """Its points are the names and units that were seen; a bench may say what its meters are."""
    path = tmp_path / "r.csv"
    path.write_text("t_s,point,value,unit,flag\n0,B+1,1.5,V,\n2,heater,6.3,Vac,\n")
    recording = read(path)
    assert [(p.name, p.unit) for p in recording.chart.points] == [("B+1", Unit.V), ("heater", Unit.VAC)]
    assert recording.upto_ns == 2 * 10**9
    bench = read_bench(BENCH.format("meter 1") + 'point = "B+1"\n', "bench")
    assert read(path, bench=bench).channels[0].accuracy is not None


def test_until_is_as_if_nothing_later_were_known(tmp_path: Path) -> None:
    """Readings and marks up to then; beyond the end it is the end."""
    recording = read(session(tmp_path / "a.session"), marks=(Mark(3 * 10**9, "tap"),))
    early = list(recording.blocks(until_ns=2 * 10**9))
    assert sum(len(b.readings) for b in early) == 41
    assert all(isinstance(n, Lead) for b in early for n in b.notes)
    assert early[-1].upto_ns == 2 * 10**9
    assert list(recording.blocks(until_ns=10**12))[-1].upto_ns == 5 * 10**9


def test_a_session_that_is_still_written_can_be_judged(tmp_path: Path) -> None:
    """As far as it has come."""
    path = tmp_path / "a.session"
    header = Header("Saltmarsh Six", (Channel("m", "m"),), CHART)
    made = Session.create(path, header)
    with made.atomic():
        made.add(Block(steady(100), (Lead(0, 0, "B+1"),), 5 * 10**9))
    recording = read(path)
    assert sum(len(b.readings) for b in recording.blocks()) == 100
    with made.atomic():
        made.add(Block(steady(10, 6 * 10**9), (), 7 * 10**9))
    assert sum(len(b.readings) for b in read(path).blocks()) == 110
    made.close()


def test_long_sessions_come_in_large_blocks(tmp_path: Path) -> None:
    """Many small commits are judged in few steps."""
    made = Session.create(tmp_path / "a.session", Header("set", (Channel("m", "m"),), CHART))
    with made.atomic():
        for number in range(500):
            made.add(Block(steady(5, number * 250_000_000), (), number * 250_000_000 + 240_000_000))
    made.close()
    blocks = list(read(tmp_path / "a.session").blocks(rows=1000))
    assert [len(b.readings) for b in blocks] == [1000, 1000, 500]
    whole = Readings.joined([b.readings for b in blocks])
    assert (whole.t_ns[1:] > whole.t_ns[:-1]).all()
