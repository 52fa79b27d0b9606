"""The meters of a bench, as people write them."""

from __future__ import annotations

import pytest

from benchtui.chart.bench import Bench, MeterEntry, SerialSettings
from benchtui.chart.bench_file import read_bench
from benchtui.model.errors import ChartError
from benchtui.model.notes import plain
from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit

BENCH = """\
[[meter]]
name = "A"
driver = "lines"
port = "/dev/serial/by-id/usb-adapter-port0"
baud = 2400
bits = 7
parity = "odd"
stop = 1.5
power_pins = { dtr = true, rts = false }
measures = "Vac"
point = "heater"
accuracy = "0.8 % + 3 counts"
input_resistance = { "20 V" = "10 Mohm", "2 V" = "11 Mohm" }
max_input = "750 Vac"
pattern = '^(?P<value>[-+.0-9]+)\\r'
units = { "~" = "mVac" }

[[meter]]
name = "needle"
driver = "typed"
port = "COM4"
accuracy = "3 % of full scale"
input_resistance = "20 kohm/V"

[[meter]]
name = "C"
driver = "scpi"
port = "socket://127.0.0.1:5025"
input_resistance = "10 Mohm"
"""


@pytest.fixture(scope="module")
def bench() -> Bench:
    return read_bench(BENCH, "bench.toml")


def test_every_key_of_a_meter(bench: Bench) -> None:
    """A meter with all its keys is the record with all its fields; what is not known here is its driver's."""
    assert bench.meters[0] == MeterEntry(
        name="A",
        driver="lines",
        port="/dev/serial/by-id/usb-adapter-port0",
        measures=Unit.VAC,
        point="heater",
        accuracy=Accuracy(0.008, 3.0),
        resistance_by_range=((2.0, 11e6), (20.0, 10e6)),
        max_input=750.0,
        serial=SerialSettings(2400, 7, "odd", 1.5, True, False),
        options={"pattern": "^(?P<value>[-+.0-9]+)\\r", "units": {"~": "mVac"}},
        line=1,
    )
    assert bench.text == BENCH


def test_what_is_not_written_is_left_to_the_driver(bench: Bench) -> None:
    """Without serial keys the driver's own defaults hold; without `measures` its wire format must say."""
    meter = bench.meters[2]

    assert meter.serial == SerialSettings()
    assert (meter.measures, meter.point, meter.accuracy, meter.max_input) == (Unit.UNKNOWN, None, None, None)
    assert meter.options == {}


def test_input_resistance_in_its_three_ways(bench: Bench) -> None:
    """By range, per volt of the range, or one value: what a meter draws on a range is asked in one way."""
    by_range, per_volt, fixed = bench.meters

    assert [by_range.resistance_on(v) for v in (2, 5, 20, 200, None)] == [11e6, 10e6, 10e6, None, None]
    assert [per_volt.resistance_on(v) for v in (250, None)] == [5e6, None]
    assert [fixed.resistance_on(v) for v in (250, None)] == [10e6, 10e6]


def test_a_blank_bench_has_no_meters() -> None:
    """Where everything is seen or typed, or a session came from a file, there are no meters."""
    assert read_bench("# none\n", "b").meters == ()


METER = '[[meter]]\nname = "A"\ndriver = "lines"\nport = "COM4"\n'

MISTAKES = [
    ('[[meter]]\nname = "A"\ndriver = "lines"\nprot = "COM4"', 1, "meter[1].port", "is missing"),
    ('[[meter]]\ndriver = "lines"\nport = "COM4"', 1, "meter[1].name", "is missing"),
    ('[[meter]]\nname = "A"\nport = "COM4"', 1, "meter[1].driver", "is missing"),
    ('[[meter]]\nname = "A"\ndriver = "lines"\nport = "COM4\\u001b"', 4, "meter[1].port", "cannot be seen"),
    (METER + 'baud = "9600"', 5, "meter[1].baud", "a whole number without quotes, 50 to 4000000"),
    (METER + "baud = true", 5, "meter[1].baud", "is true"),
    (METER + "baud = 9", 5, "meter[1].baud", "between 50 and 4000000"),
    (METER + "bits = 9", 5, "meter[1].bits", "between 5 and 8"),
    (METER + 'parity = "evn"', 5, "meter[1].parity", 'Did you mean "even"?'),
    (METER + "stop = 1.2", 5, "meter[1].stop", "1, 1.5 or 2"),
    (METER + "power_pins = true", 5, "meter[1].power_pins", "{ dtr = true, rts = false }"),
    (METER + "power_pins = { dtr = 1 }", 5, "meter[1].power_pins.dtr", "true or false"),
    (METER + "power_pins = { dsr = true }", 5, "meter[1].power_pins.dsr", "not a known key"),
    (METER + 'measures = "v"', 5, "meter[1].measures", 'Did you mean "V"?'),
    (METER + 'measures = "DC"', 5, "meter[1].measures", '"V" or "Vac"'),
    (METER + "point = 3", 5, "meter[1].point", "is the number 3"),
    (METER + 'accuracy = "0.5"', 5, "meter[1].accuracy", "neither % nor counts"),
    (METER + 'input_resistance = "11 mohm"', 5, "meter[1].input_resistance", "`Mohm`"),
    (METER + "input_resistance = {}", 5, "meter[1].input_resistance", "is empty"),
    (METER + 'input_resistance = { "2 A" = "1 Mohm" }', 5, 'meter[1].input_resistance."2 A"', "a DC current"),
    (METER + 'input_resistance = { "2 V" = "1 V" }', 5, 'meter[1].input_resistance."2 V"', "a resistance"),
    (METER + 'input_resistance = { "0 V" = "1 k" }', 5, 'meter[1].input_resistance."0 V"', "no range"),
    (
        METER + 'input_resistance = { "2 V" = "1 k", "2V" = "2 k" }',
        5,
        "meter[1].input_resistance.2V",
        "twice",
    ),
    (METER + 'max_input = "1000"', 5, "meter[1].max_input", "`1000 V` or `1000 Vac`"),
    (METER + METER, 6, "meter[2].name", "name of the meter in line 1 already"),
    ("[meter]\nname = 'A'", 1, "meter", "two brackets"),
    ("[[meters]]\nname = 'A'", 1, "meters", "did you mean `meter`?"),
]


@pytest.mark.parametrize(("text", "line", "key", "words"), MISTAKES)
def test_one_mistake_is_one_message(text: str, line: int, key: str, words: str) -> None:
    """Each mistake gives exactly one problem, on its line, with its key and what to do."""
    with pytest.raises(ChartError) as caught:
        read_bench(text, "b.toml")
    (found,) = caught.value.problems

    assert (found.file, found.line, found.key) == ("b.toml", line, key)
    assert words in found.what
    assert plain(str(found)) == str(found)


def test_all_mistakes_come_at_once() -> None:
    """A bench with three mistakes in two meters gets three messages, in the order of the file."""
    with pytest.raises(ChartError) as caught:
        read_bench(
            METER + 'bits = 9\nparity = "x"\n' + METER.replace('"A"', '"B"') + 'accuracy = "good"', "b.toml"
        )

    assert [p.line for p in caught.value.problems] == [5, 6, 11]
