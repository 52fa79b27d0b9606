"""Places in a frame as descriptions write them, digits by their segments, words of the closed list."""

from __future__ import annotations

import numpy as np
import pytest
from benchtui_drivers.frames_bits import parse_bits, together
from benchtui_drivers.frames_digits import More, numbers
from benchtui_drivers.frames_words import count, meaning
from benchtui_drivers.segments import SHAPES, as_shown, pattern, patterns
from hypothesis import given
from hypothesis import strategies as st

from benchtui.model.readings import Flag
from benchtui.model.units import Unit

from .wires import SEGMENTS_14


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1", 0x12), ("1.7-4", 0x1), ("1.3-0", 0x2), ("1.4", 1), ("1.5", 0), ("1-2", 0x12AB), ("2 1", 0xAB12),
        ("1.3-0 2.7-4", 0x2A), ("2.2-0 1.3-0", 0b011_0010), ("3.7", 1),
    ],
)  # fmt: skip
def test_bytes_count_from_1_and_bits_from_0(text: str, value: int) -> None:
    """In the frame 12 AB 80."""
    frame = b"\x12\xab\x80"
    bits = parse_bits(text, 3)
    assert bits.value(frame) == value
    assert bits.values(np.frombuffer(frame * 2, np.uint8).reshape(2, 3).T).tolist() == [value, value]


@pytest.mark.parametrize(
    "text",
    ["", " ", "0", "4", "1.8", "1.0-3", "2-1", "1.", ".1", "a", "1 1", "1.3-0 1.2", "1-", "9" * 50, "١"],
)
def test_what_is_no_place(text: str) -> None:
    """Outside the frame, turned round, named twice, or not written so."""
    with pytest.raises(ValueError, match=r"place|byte|bit"):
        parse_bits(text, 3)


@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 7)), min_size=1), st.binary(min_size=6, max_size=6)
)
def test_bits_put_together_can_be_taken_apart(places: list[tuple[int, int]], frame: bytes) -> None:
    """A frame that is made of the number has the same bits at all of these places."""
    used = together(parse_bits(f"{byte + 1}.{bit}", 6) for byte, bit in places)
    again = used.frame(used.value(frame)).ljust(6, b"\x00")
    for byte, bit in places:
        assert again[byte] >> bit & 1 == frame[byte] >> bit & 1


def test_digits_follow_from_the_geometry_of_the_segments() -> None:
    """The table of the 14-byte frame, written down from memory, is what the order e f a d c g b gives."""
    order = list("efadcgb")
    assert {c: pattern(SHAPES[c], order) for c in "0123456789L -"} == {
        c: SEGMENTS_14[c] for c in "0123456789L -"
    }


def test_no_two_characters_of_a_display_have_one_shape() -> None:
    """Else one of them could never be read."""
    shapes = [shape for c, shape in SHAPES.items()]
    assert len(set(shapes)) == len(shapes)
    assert all(list(shape) == sorted(shape) for shape in shapes)


def test_another_order_of_the_bits_gives_other_patterns_of_the_same_digits() -> None:
    """Common practice, no source: g f e d c b a from the highest bit gives 3F 06 5B 4F 66 6D 7D 07 7F 6F."""
    found = patterns("0123456789", list("gfedcba"), {})
    assert found == dict(zip(bytes.fromhex("3F 06 5B 4F 66 6D 7D 07 7F 6F"), "0123456789", strict=True))


def test_half_a_digit_shows_a_one_or_nothing() -> None:
    """Two segments of seven."""
    assert patterns("0123456789 -", ["b", "c"], {}) == {0b11: "1", 0: " "}


def test_letters_that_a_display_shows_as_digits() -> None:
    """OL is shown as 0L; a case that seven segments do not have is shown as the other."""
    assert [as_shown(t) for t in ("OL", "OVEr", "dIOD", "Err", "LEAd")] == [
        "0L",
        "0VEr",
        "d10d",
        "Err",
        "LEAd",
    ]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0123", (123, 0, False)), ("  12", (12, 0, False)), ("- 12", (12, 0, True)),
        ("+1.2", (12, 1, False)), ("12.3", (123, 1, False)), (".123", (123, 3, False)),
        ("-.50", (50, 2, True)), (" -12", (12, 0, True)), ("123.", (123, 0, False)), ("1 23", None),
        ("12 3", None), ("    ", None), ("1-23", None), ("--12", None), ("1.2.", None), ("12L4", None),
        ("  0L", None), (" .  ", None), ("- - ", None),
    ],
)  # fmt: skip
def test_what_a_row_of_characters_is_as_a_number(text: str, number: tuple[int, int, bool] | None) -> None:
    """Blanks and one sign before the first digit, one point, nothing missing between."""
    mantissa, more = _read(text)
    assert more.good.tolist() == [number is not None] * 2
    if number is not None:
        assert (mantissa, int(more.behind[0]), bool(more.minus[0])) == number


@given(st.integers(-99_999_999_999_999, 999_999_999_999_999), st.integers(0, 15))
def test_any_number_that_is_shown_is_read(value: int, width: int) -> None:
    """As wide as the display is."""
    mantissa, more = _read(f"{value:{width}d}")
    assert (mantissa, bool(more.minus[0]), bool(more.good[0])) == (abs(value), value < 0, True)


def _read(text: str) -> tuple[int, More]:
    """Two displays that show this."""
    found = numbers(np.frombuffer(text.encode() * 2, np.uint8).reshape(2, len(text)).T)
    plain = More(np.zeros(2, np.int64), np.zeros(2, np.bool_), np.ones(2, np.bool_))
    return int(found.mantissa[0]), found.more or plain


@pytest.mark.parametrize(
    ("text", "power", "unit"),
    [("0.1 mV", -1, {Unit.V}), ("10 kohm", 1, {Unit.OHM}), ("V", 0, {Unit.V}), ("0.001", -3, set()),
     ("1000 V", 3, {Unit.V}), ("1", 0, set()), ("0.1 other", -1, {Unit.UNKNOWN})],
)  # fmt: skip
def test_one_count_is_a_power_of_ten_and_a_unit(text: str, power: int, unit: set[Unit]) -> None:
    """As people write it."""
    said = count(text)
    assert (said[0], set(said[1].units)) == (power, unit)


@pytest.mark.parametrize(
    "text", ["2 V", "0.5 V", "0 V", "1.1 V", "1e3 V", "1 VV", "1 state", "١ V", "10.01 V"]
)
def test_what_is_no_count(text: str) -> None:
    """No power of ten, or no unit."""
    with pytest.raises(ValueError, match="is no"):
        count(text)


def test_words_of_the_closed_list() -> None:
    """Several together; what is not in the list is refused, whatever it looks like."""
    said = meaning("mV AC hold low_battery minus")
    assert (said.units, said.powers, said.kinds) == ({Unit.V}, (-3,), {"AC"})
    assert (said.flags, said.minus) == (Flag.HOLD | Flag.LOW_BATTERY, True)
    assert meaning("Vac").kinds == {"AC"}
    for word in ("volts", "MV", "ac", "HOLD", "state", "k k Q"):
        with pytest.raises(ValueError, match="is no meaning"):
            meaning(word)
