"""The guide to text lines: its example reads what the display showed, and it names every key there is."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from benchtui.chart.bench_file import read_bench
from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import DriverOptions
from benchtui.driver.pattern import GROUPS, LONGEST_LINE
from benchtui.model.errors import DriverError
from benchtui.model.readings import NO_VALUE, Flag
from benchtui.model.units import Unit

PAGE = (files("benchtui") / "guide" / "lines.md").read_text(encoding="utf-8")


def _keys(heading: str) -> set[str]:
    part = re.split(r"^##? ", PAGE.partition(f"\n{heading}\n")[2], maxsplit=1, flags=re.MULTILINE)[0]
    return set(re.findall(r"^\| `([a-z_]+)` \|", part, re.MULTILINE))


def test_its_example_reads_what_the_display_showed() -> None:
    """Line by line: value, unit, AC or DC, hold, open."""
    (bench,) = re.findall(r"^```toml\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
    (meter,) = read_bench(bench, "guide").meters
    driver = open_driver(meter.driver, DriverOptions(meter.name, meter.measures, meter.options))
    driver.start(0)
    driver.feed(b"\n", 0)
    rows = re.findall(r"^(#1 .{18})   *(.*)$", PAGE, re.MULTILINE)
    found = []
    for wire, _ in rows:
        out = driver.feed(wire.rstrip().encode() + b"\r\n", 1)
        assert out.troubles == ()
        r = out.readings
        flags = Flag(int(r.flags[0]))
        found.append((None if flags & NO_VALUE else float(r.value[0]), Unit(int(r.unit[0])), flags))
    assert [shown for _, shown in rows] == ["285.3 V DC", "-12.50 mV DC", "6.300 V AC, HOLD", "open"]
    assert found == [
        (285.3, Unit.V, Flag(0)),
        (-0.0125, Unit.V, Flag(0)),
        (6.3, Unit.VAC, Flag.HOLD),
        (None, Unit.OHM, Flag.OVERLOAD),
    ]


@pytest.mark.parametrize(
    ("heading", "driver"), [("## The keys of `lines`", "lines"), ("## Meters that answer in SCPI", "scpi")]
)
def test_it_names_every_key_that_there_is(heading: str, driver: str) -> None:
    """The driver itself is asked which keys it has."""
    with pytest.raises(DriverError) as failed:
        open_driver(driver, DriverOptions("A", options={"xyzzy": 1, "description": {}, "request": "D?"}))
    told = re.search(r"xyzzy: .* it knows: (.*)", str(failed.value))
    assert told is not None
    known = set(told[1].split(", ")) | ({"description"} if driver == "lines" else set())
    assert _keys(heading) == known


def test_it_names_every_group_and_the_longest_line() -> None:
    """In the words that the driver knows."""
    assert _keys("## A line that is written otherwise") == set(GROUPS)
    assert f"longer than {LONGEST_LINE} characters" in PAGE
