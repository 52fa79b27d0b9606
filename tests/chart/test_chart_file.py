"""Charts that are right: every key, and what it becomes."""

from __future__ import annotations

import pytest

from benchtui.chart.chart import Chart, Glow, MeterLoad, Point, Span
from benchtui.chart.chart_file import read_chart
from benchtui.model.units import Unit

SALTMARSH = """\
[set]
name = "Saltmarsh Six"
mains = "230 V"
meter = "20 kohm/V"
rectifier = "indirect"
filter = "capacitor"
chassis = "isolated"
tolerance = "10 %"

[[point]]
name = "B+1"
where = "reservoir capacitor C31"
reference = "B-"
conditions = "no signal, volume down"
nominal = "285 V"
tolerance = "+10 % -15 %"
limit = "350 V"
surge = "400 V for 30 s"
ripple = "8 Vac"
range = "500 V"
bleed = "60 s"
follows_mains = true

[[glow]]
name = "pilot"
fed_from = "B+4"
through = "47 kohm"
strikes = "65 V .. 90 V"
holds = "50 V .. 65 V"
nominal = "lit"
seen = true

[[point]]
name = "B+2"
nominal = "240 V"
current = "20 mA"
fed_from = "B+1"
through = "2.2 kohm"
source_resistance = "2k5"

[[point]]
name = "B+4"
low = "85 V"
high = "105 V"
fed_from = "B+2"
through = "39k"

[[glow]]
name = "regulator"
nominal = "150 V"
tolerance = "±5 V"
fed_from = "B+1"
through = "10 kohm"
strikes = "155 V .. 185 V"
current = "5 mA .. 30 mA"

[[point]]
name = "mains"

[[point]]
name = "heater"
nominal = "6.3 V AC"
tolerance = "5 %"
current = "2.1 A AC"
range = "10 Vac"
fed_from = "mains"

[[point]]
name = "V6 grid bias"
nominal = "-12 V"
limit = "-30 V"

[[point]]
name = "V6 cathode"
nominal = "9.4 V"

[[point]]
name = "V4 anode"
nominal = "94 V"
moves = "programme"

[[part]]
name = "R33"
kind = "resistor"
value = "2K2K"
from = "B+1"
to = "B+2"

[[part]]
name = "C22"
kind = "capacitor"
value = "104"
tolerance = "+80 % -20 %"

[[part]]
name = "V6"
kind = "valve"

[[derived]]
name = "output cathode current"
uses = { k = "V6 cathode" }
formula = "k / (270 * ohm)"
limit = "48 mA"

[[derived]]
name = "step-down"
uses = { a = "B+2", b = "B+1" }
formula = "a / b"
limit = "95 %"
"""


@pytest.fixture(scope="module")
def chart() -> Chart:
    return read_chart(SALTMARSH, "saltmarsh.toml")


def point(chart: Chart, name: str) -> Point:
    found = chart.point(name)
    assert found is not None
    return found


def test_the_set_and_its_conditions(chart: Chart) -> None:
    """[set] says what the chart assumes: the mains is AC though the sheet writes `230 V`."""
    assert (chart.name, chart.mains, chart.meter) == (
        "Saltmarsh Six",
        230.0,
        MeterLoad(ohms_per_volt=20_000.0),
    )
    assert (chart.rectifier, chart.filter, chart.chassis) == ("indirect", "capacitor", "isolated")
    assert chart.text == SALTMARSH


def test_points_stand_in_the_order_of_the_file(chart: Chart) -> None:
    """Points and glows keep the order in which they were written."""
    names = [p.name for p in chart.points]

    assert names[:5] == ["B+1", "pilot", "B+2", "B+4", "regulator"]


def test_every_key_of_a_point(chart: Chart) -> None:
    """A point with all its keys is the record with all its fields, in SI units, exactly."""
    assert point(chart, "B+1") == Point(
        name="B+1",
        unit=Unit.V,
        where="reservoir capacitor C31",
        reference="B-",
        conditions="no signal, volume down",
        nominal=285.0,
        low=242.25,
        high=313.5,
        limit=350.0,
        surge=400.0,
        surge_s=30.0,
        ripple=8.0,
        range=500.0,
        follows_mains=True,
        bleed_s=60.0,
        line=10,
    )


def test_the_supply_tree(chart: Chart) -> None:
    """fed_from, through and current make the tree; the set's tolerance makes the band."""
    found = point(chart, "B+2")

    assert (found.fed_from, found.through, found.current, found.source_resistance) == (
        "B+1",
        2200.0,
        0.02,
        2500.0,
    )
    assert (found.low, found.high) == (216.0, 264.0)
    assert chart.feeds("pilot") == ("B+4", "B+2", "B+1")
    assert (chart.carries("B+4"), chart.carries("pilot")) == (1, 0)


def test_bounds_may_stand_alone(chart: Chart) -> None:
    """low and high without a nominal are the band as it stands; the set's tolerance adds nothing."""
    found = point(chart, "B+4")

    assert (found.nominal, found.low, found.high) == (None, 85.0, 105.0)


def test_one_bound_is_half_a_band() -> None:
    """Who states only low means nothing about high, though the set has a tolerance."""
    chart = read_chart(
        '[set]\nname="x"\ntolerance="10 %"\n[[point]]\nname="B+"\nnominal="285 V"\nlow="245 V"', "c"
    )

    assert (chart.points[0].low, chart.points[0].high) == (245.0, None)


def test_without_any_tolerance_there_is_no_band() -> None:
    """No hidden default: where neither point nor set states a tolerance, nothing is judged by one."""
    chart = read_chart('[set]\nname="x"\n[[point]]\nname="B+"\nnominal="285 V"', "c")

    assert (chart.points[0].low, chart.points[0].high) == (None, None)


def test_a_lamp_is_a_point_that_is_lit_or_out(chart: Chart) -> None:
    """A neon lamp's point has two states, is fed by the eye and does not follow the mains in volts."""
    found = point(chart, "pilot")

    assert (found.unit, found.nominal, found.seen, found.follows_mains) == (Unit.STATE, 1.0, True, False)
    assert found.glow == Glow(strikes=Span(65.0, 90.0), holds=Span(50.0, 65.0))
    assert (found.low, found.high) == (None, None)


def test_a_measured_regulator_keeps_its_volts(chart: Chart) -> None:
    """A regulator tube with a nominal in volts is measured in volts; it may state only its current."""
    found = point(chart, "regulator")

    assert (found.unit, found.nominal, found.low, found.high) == (Unit.V, 150.0, 145.0, 155.0)
    assert (found.seen, found.follows_mains, found.current) == (False, False, None)
    assert found.glow == Glow(strikes=Span(155.0, 185.0), holds=Span(0.0, 185.0), current=Span(0.005, 0.03))


def test_the_mains_is_an_ac_point_with_the_sets_nominal(chart: Chart) -> None:
    """A point named mains needs nothing more than its name: the set says what it reads."""
    found = chart.mains_point()

    assert found is not None
    assert (found.unit, found.nominal, found.low, found.high) == (Unit.VAC, 230.0, 207.0, 253.0)


def test_ac_points_are_ac_throughout(chart: Chart) -> None:
    """A heater's voltage, current and range are all AC."""
    found = point(chart, "heater")

    assert (found.unit, found.nominal, found.current, found.range) == (Unit.VAC, 6.3, 2.1, 10.0)
    assert (found.low, found.high) == (5.985, 6.615)


def test_a_negative_point_has_its_rating_as_a_size(chart: Chart) -> None:
    """-12 V +-10 % lies between -13.2 V and -10.8 V, and its limit of -30 V is 30 V in size."""
    found = point(chart, "V6 grid bias")

    assert (found.nominal, found.low, found.high, found.limit) == (-12.0, -13.2, -10.8, 30.0)


def test_a_point_may_move_with_the_programme(chart: Chart) -> None:
    """`moves` marks a point that no level is expected of while a programme plays."""
    assert point(chart, "V4 anode").moves == "programme"


def test_parts(chart: Chart) -> None:
    """Parts are read by their markings too, with the tolerance in the marking unless one is written."""
    r33, c22, v6 = chart.parts

    assert (r33.kind, r33.value, r33.unit, r33.joins) == ("resistor", 2200.0, Unit.OHM, ("B+1", "B+2"))
    assert r33.tolerance == Span(0.9, 1.1)
    assert (c22.value, c22.tolerance, c22.joins) == (1e-7, Span(0.8, 1.8), None)
    assert (v6.value, v6.unit) == (None, Unit.UNKNOWN)


def test_derived_quantities(chart: Chart) -> None:
    """A formula knows its unit, and its limit is in that unit; a ratio's is a plain number."""
    current, ratio = chart.derived

    assert (current.uses, current.unit, current.limit) == ((("k", "V6 cathode"),), Unit.A, 0.048)
    assert (ratio.unit, ratio.limit) == (Unit.UNKNOWN, 0.95)


def test_a_zero_with_bounds_or_in_volts() -> None:
    """A nominal of 0 is right where its room is stated in volts."""
    chart = read_chart(
        '[set]\nname="x"\ntolerance="10 %"\n[[point]]\nname="a"\nnominal="0 V"\nlow="-0.5 V"\nhigh="0.2 V"\n'
        '[[point]]\nname="b"\nnominal="0 V"\ntolerance="±0.5 V"\n'
        '[[point]]\nname="hum"\nnominal="0 Vac"\nhigh="8 mVac"\n',
        "c",
    )

    assert [(p.low, p.high) for p in chart.points] == [(-0.5, 0.2), (-0.5, 0.5), (None, 0.008)]


def test_a_point_may_say_only_its_unit() -> None:
    """A place in the supply tree of which nothing is printed still says whether it is DC or AC."""
    chart = read_chart('[set]\nname="x"\n[[point]]\nname="B+3"\nunit="V"', "c")

    assert (chart.points[0].unit, chart.points[0].nominal) == (Unit.V, None)


def test_a_lamp_on_the_mains_has_its_needs_in_ac_volts() -> None:
    """Where the feed is AC, what a lamp needs is written in AC volts too."""
    chart = read_chart(
        '[set]\nname="x"\nmains="230 V"\n[[point]]\nname="mains"\n[[glow]]\nname="pilot"\nfed_from="mains"\n'
        'strikes="46 Vac .. 64 Vac"\nholds="36 Vac .. 46 Vac"\n',
        "c",
    )

    assert chart.points[1].glow == Glow(Span(46.0, 64.0), Span(36.0, 46.0))
    assert (chart.points[1].unit, chart.points[1].nominal, chart.points[1].seen) == (Unit.STATE, 1.0, True)


@pytest.mark.parametrize("change", [("\n", "\r\n"), ("[set]", "\ufeff[set]")])
def test_line_ends_and_byte_order_marks_do_not_matter(change: tuple[str, str]) -> None:
    """A chart saved on another system says the same."""
    other = read_chart(SALTMARSH.replace(*change), "c")

    assert other.points == read_chart(SALTMARSH, "c").points


def test_tables_may_be_written_inline() -> None:
    """A chart in one inline list means the same as one with headings."""
    points = '{ name = "B+1", nominal = "285 V" },\n  { name = "B+2", nominal = "240 V" }'
    chart = read_chart(f'point = [ {points} ]\n[set]\nname = "x"', "c")

    assert [(p.name, p.line) for p in chart.points] == [("B+1", 1), ("B+2", 2)]
