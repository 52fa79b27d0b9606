"""The guide to Modbus: its example is a right one, and it names every key that there is."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import Any

import pytest
from benchtui_drivers.modbus_registers import ORDERS, TYPES

from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart import Chart
from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import DriverOptions
from benchtui.model.errors import DriverError
from benchtui.port.hookup import hook_up

PAGE = (files("benchtui") / "guide" / "modbus.md").read_text(encoding="utf-8")


def _keys(heading: str) -> set[str]:
    part = re.split(r"^#", PAGE.partition(f"\n{heading}\n")[2], maxsplit=1, flags=re.MULTILINE)[0]
    cells = re.findall(r"^\| (`.*?) \|", part, re.MULTILINE)
    return {key for cell in cells for key in re.findall(r"`([^`]+)`", cell)}


def test_its_example_is_a_right_one() -> None:
    """Two stations, a channel each."""
    (text,) = re.findall(r"^```toml\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
    hooked = hook_up(read_bench(text, "bench.toml"), Chart("test"))
    assert [c.name for c in hooked.channels] == ["line:B+1", "line:mains"]


@pytest.mark.parametrize(
    ("heading", "options"),
    [
        ("## The meter's keys", {"xyzzy": 1}),
        ("## A register's keys", {"register": [{"xyzzy": 1}]}),
        ("## A register's keys", {"register": [{"number": 30001, "xyzzy": 1}]}),
    ],
)
def test_it_names_every_key_that_there_is(heading: str, options: dict[str, Any]) -> None:
    """The driver itself is asked which keys a table has."""
    with pytest.raises(DriverError) as failed:
        open_driver("modbus", DriverOptions("A", options=options))
    told = re.search(r"xyzzy: .* it knows: (.*)", str(failed.value))
    assert told is not None
    assert _keys(heading) == set(told[1].split(", "))


def test_it_names_every_type_and_order() -> None:
    """In the words that the driver knows."""
    for word in (*TYPES, *ORDERS[2], *ORDERS[4]):
        assert f"`{word}`" in PAGE
