"""Recordings that come from anyone: whatever they hold, an error names the file, and no judgement hangs."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest

from benchtui.model.block import Block
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Channel
from benchtui.store.header import Header
from benchtui.store.session import Session
from tests.store.made import steady

from .made import CHART, call

S = 10**9
DEEP = "[" * 100_000 + "]" * 100_000
METER = {"name": "A", "driver": "lines", "measures": "V", "options": {}, "port": "COM3", "channels": [0]}
CHANNEL = {"name": "A", "meter": "A", "accuracy": [0.005, 2.0, 0.0], "input_resistance": 1e7, "eye": False}
HEADER = {
    "format": "benchtui wire log",
    "version": 1,
    "started": "1957-10-04T19:30:00+00:00",
    "channels": [CHANNEL],
    "meters": [METER],
    "chart": CHART,
    "bench": "",
    "settings": "",
}


def log(path: Path, lines: Sequence[str], header: str | None = None) -> Path:
    """A wire log of a few good lines with these after the third."""
    good = [
        '{"t_ns":0,"meter":"A","dir":"event","hex":"","event":"start","text":""}',
        '{"t_ns":1,"note":{"kind":"lead","channel":0,"point":"B+1"}}',
        *(f'{{"t_ns":{n * S},"meter":"A","dir":"rx","hex":"{b"285.1 V".hex()}0a"}}' for n in range(1, 20)),
        f'{{"t_ns":{20 * S},"meter":"","dir":"event","hex":"","event":"end","text":""}}',
    ]
    path.write_text("\n".join([header or json.dumps(HEADER), *good[:3], *lines, *good[3:]]) + "\n")
    return path


READING = (
    '{"t_ns":1100000000,"note":{"kind":"reading","channel":%s,"unit":"V","value":%s,'
    '"resolution":%s,"flags":%s}}'
)
NOTE = '{"t_ns":1100000000,"note":%s}'
LINES = {
    "infinite": READING % (0, "Infinity", 0.1, 0),
    "beyond": READING % (0, "1e400", 0.1, 0),
    "coarse": READING % (0, 1, "-Infinity", 0),
    "no number": READING % (0, 1, "NaN", 0),
    "below": READING % (-1, 1, 0.1, 0),
    "above": READING % (40_000, 1, 0.1, 0),
    "flags": READING % (0, 1, 0.1, 256),
    "endless flags": READING % (0, 1, 0.1, "1e400"),
    "long": READING % ("9" * 5000, 1, 0.1, 0),
    "deep": DEEP,
    "deep inside": '{"t_ns":1100000000,"note":' + DEEP + "}",
    "time": '{"t_ns":1e400,"meter":"A","dir":"rx","hex":""}',
    "late": '{"t_ns":9223372036854775808,"meter":"A","dir":"rx","hex":""}',
    "lead": '{"t_ns":1100000000,"note":{"kind":"lead","channel":-1,"point":"B+1"}}',
    "count": NOTE % '{"kind":"trouble","meter":"A","trouble":"lost","text":"","count":1e400}',
    "list": "[1,2]",
    "bytes": "\x00\x1b[2J\ufffd",
    "meter": '{"t_ns":1100000000,"meter":["A"],"dir":"rx","hex":""}',
}


@pytest.mark.parametrize("name", LINES)
@pytest.mark.parametrize("more", [(), ("--json",), ("--events",)])
def test_a_hostile_line_is_told_with_its_number(
    name: str, more: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is left out; what stands around it is judged as if it were not there."""
    path = log(tmp_path / "a.jsonl", [LINES[name]])
    status, out, err = call(capsys, "judge", path, *more)
    without = call(capsys, "judge", log(tmp_path / "a.jsonl", []), *more)
    assert (status, out) == without[:2]
    assert err.startswith(f"benchtui: {path}:5: damaged and left out: ")
    assert len(err.splitlines()) == 1


def test_a_hostile_last_line_is_told_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The end of a log is read first, for its time."""
    for line in LINES.values():
        path = log(tmp_path / "a.jsonl", [])
        path.write_text(path.read_text() + line + "\n")
        status, _, err = call(capsys, "judge", path)
        assert status == 0, line[:50]
        assert f"{path}:24: " in err


def test_many_hostile_lines_are_counted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The first hundred one by one, the last with their number."""
    path = log(tmp_path / "a.jsonl", [LINES["list"]] * 5000)
    _, _, err = call(capsys, "judge", path)
    assert len(err.splitlines()) == 101
    assert err.splitlines()[-1] == f"benchtui: {path}:5004: left out; the last of 5000 such lines"


@pytest.mark.parametrize(
    "changed",
    [
        {"channels": [{**CHANNEL, "accuracy": [float("inf"), 0.0, 0.0]}]},
        {"channels": [{**CHANNEL, "input_resistance": float("nan")}]},
        {"channels": [CHANNEL] * 40_000},
        {"meters": [{**METER, "channels": [40_000]}]},
        {"meters": [{**METER, "channels": [-1]}]},
        {"meters": [{**METER, "channels": [1]}]},
        {"meters": [{**METER, "channels": []}]},
        {"meters": [{**METER, "channels": [float("inf")]}]},
        {"meters": [{**METER, "options": {"pattern": "("}}]},
        {"meters": [{**METER, "options": {"\x1b": float("inf")}}]},
        {"chart": ["[set]"]},
        {"chart": "[set]\nname = \x1b[2J"},
        {"versions": [1]},
        {"started": 12},
        {"started": "yesterday"},
    ],
)
def test_a_hostile_first_line_is_told(
    changed: dict[str, object], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Status 2 with the file in the message, or judged without what it says of no use."""
    path = log(tmp_path / "a.jsonl", [], json.dumps({**HEADER, **changed}))
    status, out, err = call(capsys, "judge", path)
    assert "the program itself" not in err
    assert status == 2 if "started" not in changed else status == 0
    assert not [c for c in err + out if ord(c) < 32 and c != "\n"]
    assert status == 0 or str(path) in err


def test_a_first_line_without_an_end_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nested beyond all measure."""
    begins = '{"format": "benchtui wire log", "version": 1, "channels": '
    path = log(tmp_path / "a.jsonl", [], begins + DEEP + "}")
    status, _, err = call(capsys, "judge", path)
    assert status == 2
    assert f"{path}:1: " in err


def session(path: Path) -> Path:
    made = Session.create(path, Header("Saltmarsh Six", (Channel("m", "m"),), CHART, "", ""))
    with made.atomic():
        made.add(Block(steady(100), (Lead(0, 0, "B+1"), Mark(S, "tap")), 5 * S))
        made.add(Block(steady(100, 6 * S), (), 11 * S))
    made.close()
    return path


TEXTS = ("set_name", "chart", "bench", "settings", "versions")


def view(name: str, columns: str) -> Sequence[str]:
    """Statements that put an endless view in the place of a table."""
    endless = "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n)"
    return (
        f"ALTER TABLE {name} RENAME TO was",
        f"CREATE VIEW {name} AS {endless} SELECT {columns} FROM n",
    )


DAMAGES: dict[str, Sequence[str]] = {
    **{f"blob {name}": [f"UPDATE session SET {name} = x'ff00'"] for name in TEXTS},
    **{f"no UTF-8 {name}": [f"UPDATE session SET {name} = CAST(x'ff41' AS TEXT)"] for name in TEXTS},
    "versions": ["UPDATE session SET versions = '[1]'"],
    "deep versions": [f"UPDATE session SET versions = '{'[' * 50_000}'"],
    "started text": ["UPDATE session SET started_wall_ns = 'yesterday'"],
    "started infinite": ["UPDATE session SET started_wall_ns = 9e999"],
    "started blob": ["UPDATE session SET started_wall_ns = x'00'"],
    "watermark": ["UPDATE session SET watermark_ns = 'late'"],
    "watermark infinite": ["UPDATE session SET watermark_ns = 9e999"],
    "watermark late": ["UPDATE session SET watermark_ns = 9223372036854775807"],
    "watermark early": ["UPDATE session SET watermark_ns = -1"],
    "no row": ["DELETE FROM session"],
    "channel gap": ["UPDATE channel SET id = 7"],
    "channel below": ["UPDATE channel SET id = -1"],
    "channel name": ["UPDATE channel SET name = x'00'"],
    "channel accuracy": ["UPDATE channel SET of_reading = 9e999, counts = 0, of_full_scale = 0"],
    "channel half": ["UPDATE channel SET of_reading = 0.1"],
    "channel ohms": ["UPDATE channel SET input_resistance = 'many'"],
    "note blob": ["UPDATE note SET text = x'ff'"],
    "note kind": ["UPDATE note SET kind = 'dance' WHERE type = 'mark'"],
    "note time": ["UPDATE note SET t_ns = 9223372036854775807"],
    "note time text": ["UPDATE note SET t_ns = 'soon'"],
    "lead": ["UPDATE note SET channel = -1 WHERE type = 'lead'"],
    "lead far": ["UPDATE note SET channel = 1 WHERE type = 'lead'"],
    "rows": ["UPDATE block SET rows = 99"],
    "rows below": ["UPDATE block SET rows = -1"],
    "rows much": ["UPDATE block SET rows = 9223372036854775807"],
    "codec": ["UPDATE block SET codec = x'1b5b324a'"],
    "data text": ["UPDATE block SET data = 'text'"],
    "data zeros": ["UPDATE block SET data = zeroblob(2800)"],
    "end": ["UPDATE block SET end_ns = 9e999"],
    "order": ["UPDATE block SET id = 9 WHERE id = 1"],
    "version below": ["PRAGMA user_version = -1"],
    "version none": ["PRAGMA user_version = 0"],
    "version odd": ["PRAGMA user_version = 2147483647"],
    "no table": ["DROP TABLE note"],
    "recursive block": view("block", "x id, 0 start_ns, x end_ns, 1 rows, 0 sealed, 'columns' codec, x data"),
    "recursive note": view("note", "x id, 0 t_ns, 'mark' type, 'tap' kind, x text, x what, 0, '', 1"),
    "recursive channel": view("channel", "x id, x name, x meter, 0, 0, 0, 0, 0"),
    "computed": [
        "ALTER TABLE block RENAME TO was",
        "CREATE TABLE block (id INTEGER PRIMARY KEY, start_ns, end_ns AS (0), rows AS (10000000), sealed, "
        "codec AS ('columns'), data AS (zeroblob(280000000)))",
        "INSERT INTO block (id) VALUES (1)",
    ],
    "huge": ["UPDATE block SET data = zeroblob(3000000)"],
}  # fmt: skip


@pytest.mark.parametrize("name", DAMAGES)
def test_a_hostile_session_is_told(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Status 2, one line that names the file; no hang, no memory, no traceback; judged and replayed alike."""
    monkeypatch.setattr("benchtui.store.schema.MOST_BLOB_BYTES", 2_000_000)
    path = session(tmp_path / "a.session")
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        for statement in DAMAGES[name]:
            db.execute(statement)
    for args in (("judge", path), ("judge", path, "--json"), ("replay", path, "--text", "--speed", "1000")):
        status, out, err = call(capsys, *args)
        assert status == 2, out + err
        assert str(path) in err
        assert "the program itself" not in err
        assert not [c for c in err + out if ord(c) < 32 and c != "\n"]
        assert len(err) < 2000


def test_a_damaged_bench_is_no_hindrance_to_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is given replaces what is carried, unread: bench, chart and settings. Without it, it is told."""
    path = session(tmp_path / "a.session")
    wire = log(
        tmp_path / "a.jsonl", [], json.dumps({**HEADER, "bench": "[[", "chart": "[[", "settings": "[["})
    )
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("UPDATE session SET bench = '[[', chart = '[[', settings = '[['")
    (tmp_path / "bench.toml").write_text('[[meter]]\nname = "m"\ndriver = "lines"\nport = "COM3"\n')
    (tmp_path / "chart.toml").write_text(CHART)
    (tmp_path / "settings.toml").write_text("")
    options = [("--bench", tmp_path / "bench.toml"), ("--chart", tmp_path / "chart.toml")]
    options.append(("--settings", tmp_path / "settings.toml"))
    for file in (path, wire):
        assert call(capsys, "judge", file, *(a for pair in options for a in pair))[0] == 0
        for left_out, _ in options:
            given = [a for pair in options for a in pair if pair[0] != left_out]
            status, _, err = call(capsys, "judge", file, *given)
            assert status == 2
            assert f"the {left_out.removeprefix('--')} in {file}" in err
