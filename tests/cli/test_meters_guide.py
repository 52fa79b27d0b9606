"""The guide to unknown meters says what the program does."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest

import benchtui.guide
from benchtui.chart.bench_file import read_bench
from benchtui.cli.main import parser
from benchtui.driver.candidate import Candidate
from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import DriverOptions, LineDefaults
from benchtui.driver.identifying import why_not
from benchtui.driver.trial import Chunk

from .test_meters import unheard_of

GUIDE = (Path(next(iter(benchtui.guide.__path__))) / "meters.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"^```sh\n(.*?)\n```$", GUIDE, re.MULTILINE)
TOML = re.findall(r"^```toml\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_can_be_typed_so(command: str) -> None:
    """The program knows each command and option that the guide shows."""
    program, *rest = shlex.split(command)
    assert program == "benchtui"
    parser().parse_args(rest)


def test_the_completed_description_reads_its_meter() -> None:
    """The bytes that the made-up meter of the guide sends are volts with two digits behind the point."""
    description = tomllib.loads(TOML[0])
    driver = open_driver("frames", DriverOptions("A", options={"description": description}))
    driver.start(0)
    values = []
    for n in range(5):
        values += driver.feed(unheard_of(n), n * 10**8).readings.value.tolist()
    at = driver.wake_ns
    values += driver.tick(at).readings.value.tolist() if at is not None else []
    assert values[-4:] == [round(285 + 7 * n / 100, 2) for n in range(1, 5)]


def test_why_it_does_not_fit_is_told_so() -> None:
    """With the wrong bytes under the sum, 40 of its frames give what the guide shows, word by word."""
    description = tomllib.loads(TOML[0])
    description["check"]["over"] = "2-8"
    chunks = [Chunk(n * 10**8, unheard_of(n)) for n in range(40)]
    wrong = Candidate("frames", "your description my-meter", {"description": description})
    told = why_not(wrong, chunks, lambda driver, options: options, LineDefaults(9600))
    assert f"Your description my-meter: {told}" in " ".join(GUIDE.split())


def test_the_pattern_reads_lines() -> None:
    """The entry is a bench file, and its pattern a reading of such a line."""
    (meter,) = read_bench(TOML[1], "guide").meters
    driver = open_driver(meter.driver, DriverOptions(meter.name, meter.measures, meter.options))
    driver.start(0)
    out = driver.feed(b"\nAU +285.3 VDC\r\nHO +285.4 VDC\r\nAU -12.0 VAC\r\n", 1)
    assert out.readings.value.tolist() == [285.3, 285.4, -12.0]
    assert out.readings.unit.tolist() == [1, 1, 2]
    assert out.readings.flags.tolist() == [0, 2, 0]


def test_the_scanner_has_a_channel_for_each_point() -> None:
    """The entry is a bench file, and the driver takes its channels."""
    (meter,) = read_bench(TOML[2], "guide").meters
    driver = open_driver(meter.driver, DriverOptions(meter.name, meter.measures, meter.options))
    assert tuple(driver.channels) == ("B+1", "heater")
