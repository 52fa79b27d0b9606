"""Numbers as text."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.model.units import Unit
from benchtui.tui import format as fmt

from .odd_scenes import plain_row
from .scenes import foreseen, row


def test_a_far_number_has_the_least_power_of_ten_above_a_hundredth_of_its_band() -> None:
    """B+ in whole volts, a cathode in tenths, as its band is wide."""
    assert fmt.far(row("B+1", 284.3)).whole == "284 V"
    assert fmt.far(row("V6 cathode", 9.38)).whole == "9.4 V"
    assert fmt.far(row("heater", 6.243)).whole == "6.2 Vac"


def test_a_far_number_has_at_most_three_digits_for_the_size_of_its_chart() -> None:
    """A narrow band asks for tenths; the chart's 155 V leaves room for whole volts only, also at 96 V."""
    assert fmt.far(row("regulator", 150.24)).text == "150"
    assert fmt.far(row("regulator", 96.4)).text == "96"


def test_no_number_shows_more_than_its_meter_does() -> None:
    """A meter with whole volts gives whole volts, however narrow the band."""
    coarse = plain_row("p", Unit.V, 5.0, low=4.9, nominal=5.0, high=5.1, step=1.0)
    assert fmt.far(coarse).text == "5"
    assert fmt.near(coarse).text == "5"


@pytest.mark.parametrize(
    ("value", "word", "text"),
    [
        (242.1, "out, low", "242.1"),
        (242.4, "in", "242"),
        (313.7, "out, high", "314"),
        (203.6, "in", "204"),
    ],
)
def test_rounding_never_contradicts_the_word(value: float, word: str, text: str) -> None:
    """242.1 V is below 242.25 V: rounded to 242 it would stand inside, so it gets one digit more."""
    sign = "=" if word == "in" else "!!"
    assert fmt.far(row("B+1", value, sign, word)).text == text


def test_a_passed_rating_never_reads_as_the_rating_itself() -> None:
    """350.3 V is shown with its tenths, because 350 would not have passed 350."""
    assert fmt.far(row("B+1", 350.3, "#", "RATING passed")).text == "350.3"


def test_limits_that_fall_between_two_steps_go_inward() -> None:
    """166.5 to 203.5 V is told as 167 to 203: never wider than the chart."""
    assert fmt.limits(row("screen", 180.0), 1.0) == "167 to 203"
    assert fmt.limits(row("V6 cathode", 9.0), 0.1) == "8.0 to 10.8"
    assert fmt.limits(row("pilot", 1.0), 0.0) == "lit"


def test_limits_too_long_for_their_column_are_written_shorter() -> None:
    """Two negative bounds keep their digits; one bound alone says which it is."""
    bias = plain_row("bias", Unit.V, -12.0, low=-14.0, nominal=-12.0, high=-10.0)
    assert fmt.limits(bias, 0.1) == "-14.0..-10.0"
    assert fmt.limits(plain_row("hum", Unit.VAC, 0.004, high=0.008, step=1e-4), 1e-4) == "at most 8.0"
    assert fmt.limits(plain_row("x", Unit.V, 1.0), 0.1) == ""


def test_a_band_without_room_for_its_decimals_is_told_narrower_never_wider() -> None:
    """-113.9 V is below -113.6 V: told as -114 to -101 it would look in."""
    bias = plain_row("bias", Unit.V, -113.9, low=-113.6, nominal=-107.5, high=-101.4, step=0.1)
    assert fmt.limits(bias, 0.1) == "-113 to -102"
    eht = plain_row("eht", Unit.V, 1935.9, low=1904.0, high=1935.84, step=0.01)
    assert fmt.limits(eht, 0.1) == "1.904..1.935"


def test_a_narrow_band_never_collapses_to_one_number() -> None:
    """Its ends get the digits that part them, or have no room."""
    assert fmt.limits(plain_row("x", Unit.V, 100.0, low=99.5, high=100.4), 1.0) == "99.5..100.4"
    assert fmt.limits(plain_row("x", Unit.V, -344.67, low=-344.69, high=-344.65), 0.01) == ""


def test_near_digits_below_the_noise_are_set_apart() -> None:
    """With a noise of 0.4 V the tenths are there, but quiet."""
    shown = fmt.near(replace(row("B+1", 284.3), noise=0.4))
    assert (shown.firm, shown.loose) == ("284.", "3")
    assert fmt.near(row("B+1", 284.3)).loose == ""


def test_currents_and_small_voltages_have_their_prefix() -> None:
    """38 mA, 4.3 mV, 1.43 kV; 0.6 V stays in volts."""
    anode = plain_row("a", Unit.A, 0.0384, low=0.032, nominal=0.038, high=0.044, step=1e-4)
    assert fmt.far(anode).whole == "38 mA"
    assert fmt.plain_value(0.0043, Unit.VAC) == "4.30 mVac"
    assert fmt.far(plain_row("e", Unit.V, 1432.0, low=1300.0, high=1500.0, step=1.0)).whole == "1.43 kV"
    assert fmt.prefix(0.6, Unit.V) == (1.0, "V")


def test_a_number_that_outgrows_its_prefix_takes_the_next() -> None:
    """1043 V on a chart of 285 V is 1.04 kV: the digits have no room for four."""
    assert fmt.far(row("B+1", 1043.0, "#", "RATING passed")).whole == "1.04 kV"


@pytest.mark.parametrize("value", [None, float("nan"), float("inf"), float("-inf")])
def test_no_number_is_dashes(value: float | None) -> None:
    """What is no number is never shown as one."""
    assert fmt.far(row("B+1", value)).text == "---"
    assert fmt.near(row("B+1", value)).text == "---"


def test_zero_has_no_minus() -> None:
    """-0.04 V on whole volts is 0."""
    assert fmt.number(-0.04, 0) == "0"
    assert fmt.number(-0.04, 1) == "0.0"
    assert fmt.number(-0.06, 1) == "-0.1"


def test_times_to_go_are_never_told_too_short() -> None:
    """Predictions step by 5 s upward, countdowns by 1 s upward; clocks have only what has passed."""
    assert [fmt.until(s) for s in (39.0, 40.0, 41.0)] == ["0:40", "0:40", "0:45"]
    assert [fmt.left(s) for s in (84.2, 85.0, -3.0)] == ["1:25", "1:25", "0:00"]
    assert [fmt.clock(s) for s in (24.9, 250.0, 3723.0)] == ["0:24", "4:10", "1:02:03"]


def test_an_age_is_told_only_when_it_matters() -> None:
    """Up to 2 s or three periods of the meter a reading is new."""
    assert not fmt.is_old(1.9, 0.3)
    assert fmt.is_old(2.1, 0.3)
    assert not fmt.is_old(8.0, 3.0)
    assert not fmt.is_old(None, 1.0)
    assert [fmt.age(s) for s in (9.4, 119.0, 250.0, 11000.0)] == ["9 s", "119 s", "4 min", "3 h"]


def test_a_drift_is_a_rate_an_hour_or_steady_or_nothing() -> None:
    """Two digits with a sign; 0 is steady; unknown is blank."""
    rates = (0.0, -31.4, 2.0, 0.041, None)
    assert [fmt.drift(replace(row("B+1", 1.0), drift_per_h=r)) for r in rates] == [
        "steady", "-31 V/h", "+2 V/h", "+41 mV/h", "",
    ]  # fmt: skip


def test_a_prediction_tells_its_half_width() -> None:
    """285 V within 6 V either way; the greater side counts."""
    assert fmt.interval(row("B+1", 212.0), foreseen(285.0, 6.0, 64)) == "285 ±6 V"
    assert fmt.interval(row("B+1", 212.0), foreseen(285.0, 120.0, 64)) == "about 285 V"


def test_the_meters_error_is_told_as_a_part_of_the_reading() -> None:
    """3.1 V of 258 V is 1.2 %."""
    assert fmt.of_reading(replace(row("B+2", 258.4), accuracy=3.1)) == "±1.2 %"
    assert fmt.of_reading(row("B+2", 258.4)) == ""


@given(
    st.floats(-1e6, 1e6),
    st.floats(-1e4, 1e4),
    st.floats(1e-3, 1e4),
    st.sampled_from(["=", "!!", "^", "?", ""]),
    st.sampled_from(["in", "out, low", "out, high", "rising"]),
    st.sampled_from([0.0, 1e-4, 0.01, 0.1, 1.0]),
)
def test_any_number_is_shown_within_a_step_of_itself(
    value: float, low: float, width: float, sign: str, word: str, step: float
) -> None:
    """Whatever the band, the text read back differs from the value by no more than its last digit."""
    shown = fmt.far(plain_row("p", Unit.V, value, sign, word, low=low, high=low + width, step=step))
    factor = {"V": 1.0, "mV": 1e-3, "uV": 1e-6, "nV": 1e-9, "kV": 1e3, "MV": 1e6}[shown.unit]
    assert abs(float(shown.text) * factor - value) <= max(shown.step, 1e-9) * 0.51 + abs(value) * 1e-9
    assert len(shown.text.strip("-").replace(".", "")) <= 6
