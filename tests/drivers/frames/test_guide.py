"""The guide to frames: its examples do what it says, and it names every key and word that there is."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

import pytest
from benchtui_drivers.frames_description import SOURCES
from benchtui_drivers.frames_shipped import names
from benchtui_drivers.frames_value import KINDS
from benchtui_drivers.frames_words import KNOWN, meaning

from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart import Chart
from benchtui.model.errors import DriverError
from benchtui.model.readings import NO_VALUE, Flag
from benchtui.model.units import Unit
from benchtui.port.hookup import hook_up

from .wires import frames

PAGE = (files("benchtui") / "guide" / "frames.md").read_text(encoding="utf-8")
BENCH, DESCRIPTION = re.findall(r"^```toml\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)


def _keys(heading: str) -> set[str]:
    """The keys in the first column of the table under this heading."""
    part = PAGE.partition(f"\n{heading}\n")[2]
    part = re.split(r"^#", part, maxsplit=1, flags=re.MULTILINE)[0]
    cells = re.findall(r"^\| (`.*?) \|", part, re.MULTILINE)
    return {key for cell in cells for key in re.findall(r"`([^`]+)`", cell)}


def test_its_bench_entry_is_a_right_one() -> None:
    """It can be pasted as it stands."""
    hooked = hook_up(read_bench(BENCH, "bench.toml"), Chart("test"))
    assert hooked.meters[0].listener.line.baud == 2400


def test_its_example_reads_what_its_display_showed() -> None:
    """Line by line: value, unit, AC or DC, hold, over range."""
    rows = re.findall(r"^((?:[0-9A-F]{2} ){8})   (.*)$", PAGE, re.MULTILINE)
    driver = frames(tomllib.loads(DESCRIPTION), Unit.UNKNOWN)
    driver.start(0)
    first = bytes.fromhex(rows[0][0])
    driver.feed(first, 0)
    scale = {"V": (1, "V"), "mV": (1000, "V"), "kohm": (0.001, "ohm")}
    for row, display in rows:
        out = driver.feed(bytes.fromhex(row), 1)
        assert out.troubles == ()
        r = out.readings
        flags = Flag(int(r.flags[0]))
        divisor, unit = scale[display.split()[1]]
        shown = "OL" if flags & NO_VALUE else display.split()[0]
        if shown != "OL":
            assert r.value[0] == pytest.approx(float(shown) / divisor, rel=1e-15)
        kind = "ac" if " AC" in display else ""
        assert Unit(int(r.unit[0])).symbol == unit + kind
        assert ("HOLD" in display, display.startswith("OL ")) == (
            bool(flags & Flag.HOLD),
            bool(flags & Flag.OVERLOAD),
        )
    assert len(rows) == 6


def test_it_names_every_description_that_there_is() -> None:
    """With what it is."""
    assert _keys("## Descriptions that come with the program") == set(names())


WHOLE: dict[str, Any] = {
    "line": {"baud": 9600}, "frame": {"length": 40, "start": [1], "fixed": {}}, "ask": {"send": "D"},
    "flags": {},
    "value": {"kind": "segments", "segments": "a b c d e f g", "digits": ["2.6-0"]},
    "point": {}, "function": {}, "code": [{}], "check": {"kind": "sum"},
}  # fmt: skip


@pytest.mark.parametrize(
    ("heading", "path", "changes"),
    [
        ("### [line]", ("line",), [{}]),
        ("### [frame]", ("frame",), [{}]),
        ("### [check]", ("check",), [{}, {"kind": "crc"}]),
        ("### [value]", ("value",), [{}, {"kind": "binary"}, {"kind": "ascii"}, {"kind": "bcd"}]),
        ("### [point]", ("point",), [{}]),
        ("### [[code]]", ("code", 0), [{}]),
        ("### [function]", ("function",), [{}]),
        ("### [ask]", ("ask",), [{}]),
    ],
)
def test_it_names_every_key_that_there_is(
    heading: str, path: tuple[str | int, ...], changes: list[Mapping[str, Any]]
) -> None:
    """No more and no fewer: the driver itself is asked which keys a table has."""
    known: set[str] = set()
    for change in changes:
        whole = {k: [dict(t) for t in v] if isinstance(v, list) else dict(v) for k, v in WHOLE.items()}
        table: Any = whole
        for step in path:
            table = table[step]
        table |= {**change, "xyzzy": 1}
        with pytest.raises(DriverError) as failed:
            frames(whole)
        told = re.search(r"xyzzy: .* it knows: (.*)", str(failed.value))
        assert told is not None
        known |= set(told[1].split(", "))
    assert _keys(heading) == known


def test_it_names_the_keys_at_the_top() -> None:
    """And every table."""
    with pytest.raises(DriverError) as failed:
        frames({**WHOLE, "xyzzy": 1})
    told = re.search(r"xyzzy: .* it knows: (.*)", str(failed.value))
    assert told is not None
    top = PAGE.partition("### At the top")[2].partition("### [line]")[0]
    tables = {name.strip("[]") for name in re.findall(r"`(\[\[?\w+\]\]?)`", top)}
    assert _keys("### At the top") | tables == set(told[1].split(", "))
    for word in (*SOURCES, *KINDS):
        assert f"`{word}`" in PAGE


def test_it_names_every_word_that_there_is() -> None:
    """The closed list, and each of them means something to the driver."""
    words = {w for cell in _keys("## What flags and codes can mean") for w in cell.split()}
    listed = set(
        re.findall(
            r"[A-Za-z%_]+", KNOWN.replace("with or without a prefix (mV, kohm) and ac or dc (Vac)", "")
        )
    )
    assert words == listed
    for word in words:
        meaning(word)
