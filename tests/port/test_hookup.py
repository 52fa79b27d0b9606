"""The bench, hooked up: channels in order, leads where they start, every mistake in one go."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from benchtui.chart.bench import Bench, MeterEntry, SerialSettings
from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart import Chart, Point
from benchtui.driver.description import MeterDescription
from benchtui.driver.listener import Listener
from benchtui.model.errors import DriverError
from benchtui.model.notes import Lead
from benchtui.model.readings import Accuracy, Channel
from benchtui.model.units import Unit
from benchtui.port.descriptions import own_names
from benchtui.port.hookup import hook_up

CHART = Chart(
    "test", points=(Point("B+1", Unit.V), Point("B+2", Unit.V), Point("pilot", Unit.STATE, seen=True))
)


def test_channels_and_leads() -> None:
    """One channel a meter, one a named value, one a seen point; each with its lead at 0."""
    accuracy = Accuracy(0.0005, 3)
    bench = Bench(
        (
            MeterEntry("A", "lines", "/dev/a", Unit.V, "B+1", accuracy, 1e7),
            MeterEntry("S", "scpi", "/dev/s", Unit.V, options={"channels": ["B+2", "", "spare"]}),
        )
    )
    hookup = hook_up(bench, CHART)
    assert hookup.channels == (
        Channel("A", "A", accuracy, 1e7),
        Channel("S:B+2", "S"),
        Channel("S:spare", "S"),
        Channel("pilot", "eye", eye=True),
    )
    assert hookup.leads == (Lead(0, 0, "B+1"), Lead(0, 1, "B+2"), Lead(0, 2, None), Lead(0, 3, "pilot"))
    assert [m.description.channels for m in hookup.meters] == [(0,), (1, 2)]


def test_the_benchs_serial_settings_stand_before_the_drivers() -> None:
    """What the bench does not say the driver knows."""
    bench = Bench(
        (MeterEntry("A", "lines", "/dev/a", serial=SerialSettings(baud=2400, parity="odd", dtr=True)),)
    )
    settings = hook_up(bench, CHART).meters[0].settings
    assert (settings.baud, settings.bits, settings.parity, settings.dtr, settings.rts) == (
        2400,
        8,
        "odd",
        True,
        None,
    )


def test_all_problems_of_a_bench_come_at_once() -> None:
    """An unknown driver, a wrong key, one port for two meters, one name for two channels."""
    bench = Bench(
        (
            MeterEntry("A", "linnes", "/dev/a"),
            MeterEntry("B", "lines", "/dev/b", options={"colour": 1}),
            MeterEntry("C", "lines", "/dev/b"),
            MeterEntry("pilot", "lines", "/dev/d"),
        )
    )
    with pytest.raises(DriverError) as failed:
        hook_up(bench, CHART)
    told = str(failed.value)
    for part in (
        "meter A: there is no driver",
        "meter B: colour",
        'meters "B" and "C" are both on /dev/b',
        '"pilot"',
    ):
        assert part in told


def test_a_needle_loads_a_point_by_the_range_that_it_is_on() -> None:
    """Ohms per volt times full scale; a table by range; unknown where the range is not told."""
    text = """
    [[meter]]
    name = "needle"
    driver = "lines"
    port = "/dev/a"
    input_resistance = "20 kohm/V"
    range = "500 V"
    [[meter]]
    name = "B"
    driver = "lines"
    port = "/dev/b"
    input_resistance = { "2 V" = "11 Mohm", "1000 V" = "10 Mohm" }
    range = "20 V"
    [[meter]]
    name = "C"
    driver = "lines"
    port = "/dev/c"
    input_resistance = "20 kohm/V"
    """
    hookup = hook_up(read_bench(text, "bench.toml"), CHART)
    assert [c.input_resistance for c in hookup.channels[:3]] == [1e7, 1e7, None]
    assert [m.description.options for m in hookup.meters] == [{}, {}, {}]


def test_a_range_that_decides_nothing_is_the_drivers_key() -> None:
    """Without a resistance by range `range` means nothing to the bench: the driver gets it, and refuses."""
    text = '[[meter]]\nname = "A"\ndriver = "lines"\nport = "/dev/a"\nrange = "500 V"\n'
    with pytest.raises(DriverError, match="range: the driver lines has no such key"):
        hook_up(read_bench(text, "bench.toml"), CHART)


OWN = """
title = "mine"
source = "found by trying"
[line]
baud = 4800
[frame]
length = 6
start = [0xA5]
end = [0x0D]
[value]
kind = "ascii"
digits = ["2", "3", "4", "5"]
unit = "V"
"""


def test_a_persons_own_descriptions_are_found_by_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the configuration folder, before a shipped one of that name; a session keeps the tables."""
    monkeypatch.setattr("benchtui.port.descriptions.folder", lambda: tmp_path)
    (tmp_path / "frames").mkdir()
    for name in ("my-meter", "ascii-9"):
        (tmp_path / "frames" / f"{name}.toml").write_text(OWN)
        bench = Bench((MeterEntry("A", "frames", "/dev/a", Unit.V, options={"description": name}),))
        (hooked,) = hook_up(bench, CHART).meters
        assert hooked.settings.baud == 4800
        assert hooked.description.options["description"]["title"] == "mine"
        (tmp_path / "frames" / f"{name}.toml").unlink()
        again = Listener.of(MeterDescription.from_json(json.loads(json.dumps(hooked.description.as_json()))))
        again.start(0)
        assert again.feed(b"\xa50285\r\xa50286\r", 1).readings.value.tolist() == [285.0, 286.0]


REGISTERS = [
    {"name": "B+1", "number": 30001, "type": "int16", "unit": "A"},
    {"name": "B+2", "number": 30002, "type": "int16", "unit": "mV"},
]
CHANNELS = [
    {"name": "B+1", "measures": "V", "request": "MEAS:VOLT? (@1)"},
    {"name": "B+2", "measures": "ohm", "request": "MEAS:RES? (@2)"},
]


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        (MeterEntry("A", "lines", "/dev/a", Unit.OHM, "B+1"), "meter A: measures: ohm cannot land on “B+1”"),
        (
            MeterEntry("A", "lines", "/dev/a", Unit.VAC, "B+1"),
            "measures: Vac cannot land on “B+1”, which the",
        ),
        (
            MeterEntry("A", "modbus", "/dev/a", options={"register": REGISTERS}),
            "channel B+1: A cannot land on",
        ),
        (
            MeterEntry("A", "scpi", "/dev/a", options={"channels": CHANNELS}),
            "channel B+2: ohm cannot land on",
        ),
    ],
)
def test_a_meter_that_is_set_to_what_its_point_is_not(entry: MeterEntry, told: str) -> None:
    """Its readings could never land there: told before a port is opened, with what to do."""
    with pytest.raises(DriverError) as failed:
        hook_up(Bench((entry,)), CHART)
    assert told in str(failed.value)
    assert len(str(failed.value).splitlines()) == 1


def test_what_a_meter_measures_may_be_left_to_the_wire() -> None:
    """No unit in the bench file, or a channel on no point of the chart: nothing to be told."""
    bench = Bench(
        (
            MeterEntry("A", "lines", "/dev/a", point="B+1"),
            MeterEntry("B", "lines", "/dev/b", Unit.OHM),
            MeterEntry("C", "scpi", "/dev/c", Unit.V, options={"channels": ["B+2", "spare"]}),
        )
    )
    assert len(hook_up(bench, CHART).meters) == 3


def test_a_description_says_which_pins_power_its_meter() -> None:
    """DTR and RTS as [line] has them, of frames and of text lines; the bench's own stand before them."""
    frames = tomllib.loads(OWN.replace("[line]", "[line]\npower_pins = { dtr = true, rts = false }"))
    lines = {"line": {"baud": 4800, "power_pins": {"rts": True}}, "lines": {}}
    said = SerialSettings(dtr=False)
    bench = Bench(
        (
            MeterEntry("A", "frames", "/dev/a", Unit.V, options={"description": frames}),
            MeterEntry("B", "frames", "/dev/b", Unit.V, options={"description": frames}, serial=said),
            MeterEntry("C", "lines", "/dev/c", Unit.V, options={"description": lines}),
        )
    )
    pins = [(m.settings.dtr, m.settings.rts) for m in hook_up(bench, CHART).meters]
    assert pins == [(True, False), (False, False), (None, True)]


def test_a_wrong_pin_in_a_description_is_told() -> None:
    """With the key that is meant."""
    lines = {"line": {"power_pins": {"dts": True, "rts": 1}, "baud": 1}}
    bench = Bench((MeterEntry("C", "lines", "/dev/c", Unit.V, options={"description": lines}),))
    with pytest.raises(DriverError) as failed:
        hook_up(bench, CHART)
    assert "did you mean rts" in str(failed.value) or "did you mean dtr" in str(failed.value)
    assert "[line].power_pins rts: write true or false" in str(failed.value)
    assert "[line] baud: 1 is not between 50 and 4000000" in str(failed.value)


@pytest.mark.parametrize("text", [b"[line", b"\xff\xfe", b'[line]\nbaud = "fast"\n'])
def test_a_damaged_description_is_a_mistake_of_its_meter(
    text: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """TOML that is none, bytes that are no text, a wrong key: told with the meter's name."""
    monkeypatch.setattr("benchtui.port.descriptions.folder", lambda: tmp_path)
    (tmp_path / "frames").mkdir()
    (tmp_path / "frames" / "mine.toml").write_bytes(text)
    bench = Bench((MeterEntry("A", "frames", "/dev/a", options={"description": "mine"}),))
    with pytest.raises(DriverError, match="meter A: "):
        hook_up(bench, CHART)
    assert own_names("frames") == ("mine",)
    assert own_names("../frames") == ()


def test_text_lines_by_description() -> None:
    """A shipped one by name, the bench entry's own keys before its keys; the session keeps the tables."""
    options = {"description": "number", "overload": ["----"]}
    bench = Bench((MeterEntry("A", "lines", "/dev/a", Unit.V, options=options),))
    (hooked,) = hook_up(bench, CHART).meters
    assert hooked.description.options["description"]["source"] == "from memory"
    listener = hooked.listener
    listener.start(0)
    out = listener.feed(b"\n285.3\r\n285.3 V\r\n0L\r\n+2.5E+02\r\n", 1)
    assert out.readings.value.tolist() == [285.3, 250.0]
    for wrong in ({"description": "nomber"}, {"description": 3}, {"description": {"frame": {}}}):
        with pytest.raises(DriverError, match="meter A: description: "):
            hook_up(Bench((MeterEntry("A", "lines", "/dev/a", options=wrong),)), CHART)


def test_a_log_keeps_whether_the_function_was_asked() -> None:
    """So that it is played with the questions of its time, whatever is usual later."""
    bench = Bench(
        tuple(
            MeterEntry(name, "scpi", f"/dev/{name}", Unit.V, options=options)
            for name, options in (("a", {}), ("b", {"function": False}), ("c", {"request": "MEAS:VOLT?"}))
        )
    )
    kept = [m.description.options["function"] for m in hook_up(bench, CHART).meters]
    assert kept == [True, False, False]
