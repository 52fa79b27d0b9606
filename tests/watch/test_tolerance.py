"""Inside, outside, undecided: the meter's accuracy as guard band, the mains, and what each meter loads.

Decision rules: JCGM 106:2012, guarded acceptance and guarded rejection; the guard band is as wide as the
meter's greatest error. Circuit figures: named beside each check.
"""

from __future__ import annotations

import pytest

from benchtui.chart.chart import Chart, MeterLoad, Point
from benchtui.chart.loading import loaded
from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit
from benchtui.watch.now import board
from benchtui.watch.place.banding import Band, band, decide
from benchtui.watch.summary import PointSummary, summarise

from .shapes import flat, steps, switched
from .streams import Judged, Timeline, ac, dc

GOOD = Accuracy(0.005, 2)
"""0.5 % + 2 counts: at 313.5 V with 0.1 V counts, 1.7675 V."""


def standing(
    volts: float, point: Point | None = None, *, mains: float | None = None, accuracy: Accuracy | None = GOOD,
    ohms: float | None = None, meter: MeterLoad | None = None, step: float = 0.1,
) -> Judged:  # fmt: skip
    """A set that has stood at one level for four minutes."""
    point = point or dc("B+1", 285.0)
    chart = Chart("a set", mains=230.0, meter=meter, points=(ac("mains", 230.0), point))
    time = Timeline(chart, 240.0)
    time.mark(1.0, "on")
    if mains is not None:
        time.meter("mains", switched(flat(mains), 1.0), noise=0.0)
    time.meter(point.name, flat(volts), noise=0.0, accuracy=accuracy, ohms=ohms, step=step)
    return time.judged()


def of(judged: Judged, name: str = "B+1") -> PointSummary:
    return next(p for p in summarise(judged.bank) if p.point == name)


@pytest.mark.parametrize(
    ("volts", "decision"),
    [
        (285.0, "inside"), (311.7, "inside"), (311.8, "undecided"), (313.5, "undecided"),
        (315.2, "undecided"), (315.3, "outside"), (258.0, "inside"), (257.8, "undecided"),
        (255.2, "undecided"), (254.8, "outside"),
    ],
)  # fmt: skip
def test_outside_only_where_no_error_of_the_meter_explains_it(volts: float, decision: str) -> None:
    """285 V ±10 %, read to 0.5 % + 2 counts: the guard band lies on both sides of both edges."""
    judged = standing(volts)
    assert of(judged).decision == decision
    assert bool(judged.of("outside")) == (decision == "outside")


@pytest.mark.parametrize(("volts", "decision"), [(313.5, "inside"), (313.6, "outside"), (256.4, "outside")])
def test_a_meter_of_unknown_accuracy_has_no_guard_band(volts: float, decision: str) -> None:
    """What is not known is not made up."""
    assert of(standing(volts, accuracy=None)).decision == decision


def test_the_guard_band_is_in_the_evidence() -> None:
    """Value, band, side, by how much and the guard band that it was judged with."""
    evidence = standing(320.0).one("outside").evidence
    assert evidence["value"] == 320.0
    assert (evidence["low"], evidence["high"]) == (pytest.approx(256.5), pytest.approx(313.5))
    assert evidence["side"] == "high"
    assert evidence["by"] == pytest.approx(6.5)
    assert evidence["guard"] == pytest.approx(320.0 * 0.005 + 0.2)


@pytest.mark.parametrize(
    ("accuracy", "reading", "resolution", "error"),
    [
        (Accuracy(0.025, 3), 32.00, 0.01, 0.83), (Accuracy(0.008, 2), 100.0, 0.1, 1.0),
        (Accuracy(0.0008, 2), 2.000, 0.001, 0.0036), (Accuracy(0.001, 4), 0.16651, 0.00001, 0.20651e-3),
        (Accuracy(0.025, 3), -32.00, 0.01, 0.83),
    ],
)  # fmt: skip
def test_the_greatest_error_is_part_of_reading_plus_counts(
    accuracy: Accuracy, reading: float, resolution: float, error: float
) -> None:
    """University laboratory notes on meter uncertainty: .83 V, 1.0 V, .0036 V, .20651 mV; arithmetic."""
    assert accuracy.bound(reading, resolution) == pytest.approx(error, rel=1e-9)


def test_a_needle_is_judged_by_its_full_scale() -> None:
    """2 % of a 500 V range is 10 V anywhere on the scale (arithmetic)."""
    point = dc("B+1", 285.0, range=500.0)
    needle = Accuracy(of_full_scale=0.02)
    assert of(standing(322.0, point, accuracy=needle)).decision == "undecided"
    assert of(standing(324.0, point, accuracy=needle)).decision == "outside"
    assert of(standing(303.0, point, accuracy=needle)).decision == "inside"


def test_one_bound_alone_is_judged_by_itself() -> None:
    """A point with only `low` has no upper edge, one with only `high` no lower one."""
    low = Point("B+1", Unit.V, low=250.0)
    assert of(standing(900.0, low)).decision == "inside"
    assert of(standing(240.0, low)).decision == "outside"
    high = Point("B+1", Unit.V, high=250.0)
    assert of(standing(0.3, high)).decision == "inside"
    assert of(standing(260.0, high)).decision == "outside"


def test_a_negative_rail_is_judged_like_any_other() -> None:
    """-22 V ±20 %: -17 V is too high, -27 V too low, -22 V in."""
    bias = dc("B+1", -22.0, 0.2)
    assert of(standing(-22.0, bias)).decision == "inside"
    assert standing(-17.0, bias).one("outside").evidence["side"] == "high"
    assert standing(-27.0, bias).one("outside").evidence["side"] == "low"


# -- the mains


@pytest.mark.parametrize(
    ("mains", "volts", "decision"),
    [
        (241.5, 320.0, "inside"), (230.0, 320.0, "outside"), (241.5, 285.0, "inside"),
        (213.9, 240.0, "inside"), (230.0, 240.0, "outside"), (252.9, 313.5, "inside"),
        (207.1, 256.6, "inside"),
    ],
)  # fmt: skip
def test_the_band_goes_with_the_mains(mains: float, volts: float, decision: str) -> None:
    """Within ±10 % of the chart's mains the band of a point that follows it is scaled (arithmetic)."""
    assert of(standing(volts, mains=mains)).decision == decision


@pytest.mark.parametrize("mains", [253.5, 206.5, 260.0])
@pytest.mark.parametrize("volts", [285.0, 400.0])
def test_beyond_ten_per_cent_a_point_that_follows_the_mains_is_not_judged(mains: float, volts: float) -> None:
    """Not judged, whatever it reads, and the reason says by how much the mains is off."""
    judged = standing(volts, mains=mains)
    point = of(judged)
    assert point.decision == "not judged"
    assert point.why is not None
    assert f"{100 * (mains / 230 - 1):+.0f} %" in point.why
    assert not judged.of("outside", point="B+1")


def test_a_regulated_point_keeps_its_band_at_any_mains() -> None:
    """The regulator is there to hold it: 150 V ±4 % at 245 V mains as at 230 V."""
    tube = dc("B+1", 150.0, 0.04, follows_mains=False)
    assert of(standing(150.0, tube, mains=245.0)).decision == "inside"
    assert of(standing(160.0, tube, mains=245.0)).decision == "outside"


def test_without_a_mains_reading_the_tolerance_holds_as_written() -> None:
    """Nobody measures the mains: the chart's own band."""
    judged = standing(320.0)
    assert of(judged).decision == "outside"
    assert judged.one("outside").evidence["mains"] is None


def test_the_board_shows_the_band_that_holds_now() -> None:
    """Scaled by the mains, so that needle and number agree with the decision."""
    row = next(r for r in board(standing(300.0, mains=241.5).bank).rows if r.point == "B+1")
    assert row.low == pytest.approx(256.5 * 1.05)
    assert row.nominal == pytest.approx(285.0 * 1.05)
    assert row.high == pytest.approx(313.5 * 1.05)


# -- what the meters load


def source(nominal: float, ohms: float, scale: float | None = None) -> Point:
    return dc("B+1", nominal, 0.05, source_resistance=ohms, range=scale)


def test_a_chart_made_with_a_needle_is_read_with_a_digital_meter() -> None:
    """30 V on two 400 k: 20 kohm/V on its 20 V range reads 10, true 15 (electronics course text)."""
    chart_meter = MeterLoad(ohms_per_volt=20e3)
    assert loaded(15.0, 200e3, chart_meter.on_range(20.0) or 0.0) == pytest.approx(10.0)
    ours = loaded(15.0, 200e3, 10e6)
    assert ours == pytest.approx(14.706, abs=5e-4)
    point = source(10.0, 200e3, 20.0)
    more = {"meter": chart_meter, "accuracy": None, "step": 0.001}
    assert of(standing(ours, point, ohms=10e6, **more)).decision == "inside"  # type: ignore[arg-type]
    assert of(standing(10.0, point, ohms=10e6, **more)).decision == "outside"  # type: ignore[arg-type]
    assert of(standing(10.0, point, ohms=400e3, **more)).decision == "inside"  # type: ignore[arg-type]


@pytest.mark.parametrize(("ohms", "reads"), [(1e6, 3.997), (10e3, 3.75), (667.0, 2.00)])
@pytest.mark.parametrize(("theirs", "nominal"), [(1e6, 3.997), (10e3, 3.75), (667.0, 2.00)])
def test_any_meter_agrees_with_a_chart_made_with_any_other(
    ohms: float, reads: float, theirs: float, nominal: float
) -> None:
    """6 V, 1 k over 2 k; meters of 1 M, 10 k, 667 ohm read 3.997, 3.75, 2.00 V (textbook example)."""
    judged = standing(
        reads, source(nominal, 2000.0 / 3.0), ohms=ohms, meter=MeterLoad(ohms=theirs), accuracy=None,
        step=0.0001,
    )  # fmt: skip
    desk = judged.bank.placer.desk
    expected = band(desk, desk.tracks["B+1"]).nominal
    assert expected == pytest.approx(reads, rel=5e-4)
    assert of(judged).decision == "inside"


def test_a_meter_that_loads_nearly_everything_away_is_still_right() -> None:
    """24 V on two 250 M: a 10 M meter shows .8889 V (textbook example); the chart was made with 1 G."""
    true = 12.0
    nominal = loaded(true, 125e6, 1e9)
    reads = loaded(true, 125e6, 10e6)
    assert reads == pytest.approx(0.8889, abs=5e-5)
    judged = standing(
        reads, source(nominal, 125e6), ohms=10e6, meter=MeterLoad(ohms=1e9), accuracy=None, step=0.0001
    )  # fmt: skip
    assert of(judged).decision == "inside"


def test_where_something_is_not_known_the_band_stays() -> None:
    """No input resistance, no chart meter, no range for ohms per volt, no source resistance: as written."""
    needle, digital = MeterLoad(ohms_per_volt=20e3), MeterLoad(ohms=11e6)
    for point, ohms, meter in (
        (source(10.0, 200e3, 20.0), None, needle), (source(10.0, 200e3), 10e6, needle),
        (source(10.0, 200e3), 10e6, None), (dc("B+1", 10.0, 0.05), 10e6, digital),
    ):  # fmt: skip
        judged = standing(10.0, point, ohms=ohms, meter=meter, accuracy=None, step=0.001)
        assert of(judged).decision == "inside"


# -- excursions


def test_a_level_that_hovers_at_the_edge_opens_one_finding() -> None:
    """Outside by 2 V, back to half a count inside the edge and out again: hysteresis keeps it one finding."""
    point = dc("B+1", 285.0)
    time = Timeline(Chart("a set", points=(point,)), 600.0)
    time.mark(1.0, "on")
    shape = flat(285.0)
    shape = steps(shape, 150.0, 315.5 / 285.0 - 1.0)
    for at in range(200, 560, 20):
        shape = steps(shape, float(at), (-0.005, 1 / 0.995 - 1.0)[(at // 20) % 2])
    time.meter("B+1", shape, accuracy=GOOD)
    assert len(time.judged().of("outside")) == 1


def test_decide_is_symmetric_about_the_nominal() -> None:
    """Mirrored about 0, a level has the mirrored decision."""
    for level in (80.0, 89.0, 90.0, 91.0, 100.0, 109.0, 111.0, 130.0):
        one = decide(Band(90.0, 100.0, 110.0, 1.0), level, 2.0)
        other = decide(Band(-110.0, -100.0, -90.0, 1.0), -level, 2.0)
        assert one == other


@pytest.mark.parametrize("volts", [150.0, 40.0])
def test_while_warming_a_point_below_its_band_is_not_outside(volts: float) -> None:
    """Half a minute after power-on a point on its way up is `not judged`: still warming up."""
    time = Timeline(Chart("a set", points=(dc("B+1", 285.0),)), 30.0)
    time.mark(1.0, "on")
    time.meter("B+1", lambda t: volts * (t / 30.0) + 20.0)
    judged = time.judged()
    assert of(judged).decision == "not judged"
    assert not judged.of("outside")
