"""Frames in a stream that is cut, damaged, joined in the middle, sent twice, or only parted by silence."""

from __future__ import annotations

import random
from typing import Any

import pytest
from benchtui_drivers.frames_shipped import shipped
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.driver.contract import Driver, Out

from .wires import GOOD, ascii_11, bcd_8, frames, heard, segments_14

LENGTH = {name: int(shipped(name)["frame"]["length"]) for name in GOOD}
SECOND = 1_000_000_000
GAPS: dict[str, Any] = {
    "line": {"baud": 9600},
    "frame": {"length": 4, "gap": "30 ms"},
    "value": {"kind": "bcd", "digits": ["1.7-4", "1.3-0", "2.7-4", "2.3-0"], "unit": "V"},
    "point": {"behind": 1},
    "check": {"kind": "sum", "over": "1-3", "at": "4"},
}
"""Four digits, a byte that may be anything, a sum: only silence tells where it begins."""


def _gap_frame(digits: str, any_byte: int = 0) -> bytes:
    body = bytes.fromhex(digits) + bytes([any_byte])
    return body + bytes([sum(body) & 0xFF])


def _told(*outs: Out) -> list[tuple[str, int]]:
    return [(t.text, t.count) for out in outs for t in out.troubles]


def test_joining_in_the_middle_of_a_frame_is_counted_and_no_trouble() -> None:
    """The first piece is thrown away: nobody knows how much of it is missing."""
    driver = frames("segments-14")
    driver.start(0)
    out = driver.feed(segments_14("2853", 1)[5:] + segments_14("2854", 1), 1)
    assert (out.readings.value.tolist(), out.skipped, out.troubles) == ([285.4], 9, ())


def test_more_than_joining_costs_is_trouble() -> None:
    """A whole frame's worth of bytes before the first frame is not the rest of one."""
    driver = frames("segments-14")
    driver.start(0)
    out = driver.feed(bytes(30) + segments_14("2854", 1), 1)
    assert (out.readings.value.tolist(), out.skipped) == ([285.4], 0)
    assert _told(out)[0][1] == 30


def _damaged(digits: str) -> bytes:
    frame = bytearray(segments_14(digits, 1))
    frame[8] ^= 0x10  # the fourth digit's index
    return bytes(frame)


@pytest.mark.parametrize(
    ("frame", "why"),
    [
        (segments_14("28?3", 1), "digit 3 holds 0x13, which is not described"),
        (segments_14("2 53", 1), "its digits “2 53” are no number"),
        (segments_14("    ", 1), "its digits “    ” are no number"),
        (segments_14("2853", 1, signs={"13.2": True, "13.3": True}), "it says A and V at once"),
        (
            segments_14("2853", 1, signs={"13.2": True, "11.3": True, "10.1": True}),
            "it says two prefixes at once",
        ),
        (segments_14("2853", 1, signs={"13.2": True, "1.3": True, "1.2": True}), "it says AC and DC at once"),
        (segments_14("2853", 1, signs={"13.2": True, "6.3": True}), "it shows two decimal points at once"),
        (_damaged("2853"), ""),
        (segments_14("2853", 1)[:-1], ""),
        (segments_14("2853", 1) + b"\x00", ""),
    ],
)
def test_a_damaged_frame_is_refused_whole_and_told(frame: bytes, why: str) -> None:
    """Unknown pattern, missing digit, two units, wrong index, a byte too few or too many: no reading."""
    good = segments_14("2850", 1)
    driver = frames("segments-14")
    driver.start(0)
    out = driver.feed(good * 40 + frame + good * 2, 1)
    extra = 1 if frame[:14] == segments_14("2853", 1) else 0
    assert set(out.readings.value.tolist()) == ({285.0, 285.3} if extra else {285.0})
    assert len(out.readings) == 42 + extra
    told = _told(out, driver.tick(3 * SECOND))
    assert sum(count for _, count in told) == len(frame) - 14 * extra
    assert why in told[0][0]


def test_a_refused_frame_costs_no_other() -> None:
    """The frames before and after it are read."""
    wire = segments_14("2851", 1) + segments_14("28?3", 1) + segments_14("2852", 1)
    assert heard(frames("segments-14"), wire) == [285.1, 285.2]


def test_the_wrong_speed_is_recognised_and_said() -> None:
    """Bytes come, no frame fits: after 2 s it is said what to check."""
    driver = frames("segments-14")
    driver.start(0)
    said: list[str] = []
    for n in range(30):
        at = n * SECOND // 10
        said += [t.text for t in driver.feed(b"\xe6\x00\x98\x9e\x80\x06", at).troubles]
        if driver.wake_ns is not None and driver.wake_ns <= at:
            said += [t.text for t in driver.tick(at).troubles]
    begin = "E6 00 98 9E 80 06 E6 00 98 9E 80 06 E6 00 98 9E"
    assert said == [f"bytes come, no frame fits: check the speed; they begin {begin}"]


def test_a_long_stretch_is_told_in_parts() -> None:
    """Ten thousand bytes that are no frame are counted to the last, in any cut."""
    told = []
    for size in (1, 777, 10_000):
        driver = frames("ascii-9")
        driver.start(0)
        stream = bytes(n * n % 251 for n in range(10_000))
        outs = [driver.feed(stream[i : i + size], 1) for i in range(0, len(stream), size)]
        told.append(_told(*outs, driver.start(2)))
        assert sum(count for _, count in told[-1]) + 8 >= 10_000
    assert told[0] == told[1] == told[2]


@pytest.mark.parametrize("name", sorted(GOOD.keys() - {"ascii-11-twice"}))
def test_the_first_good_frame_after_garbage_is_found_at_the_latest_as_the_second(name: str) -> None:
    """Whatever the garbage was, and wherever it cut a frame off: all from the second on are read."""
    rng = random.Random(7)
    good = GOOD[name]
    from_second = heard(frames(name), good)[-(len(good) // LENGTH[name] - 1) :]
    for _ in range(300):
        garbage = rng.randbytes(rng.randrange(3 * LENGTH[name])) + good[: rng.randrange(len(good))]
        found = heard(frames(name), garbage, good)
        assert repr(found[-len(from_second) :]) == repr(from_second)


def test_copies_are_found_again_after_garbage() -> None:
    """Of blocks that are sent twice, at the latest the second conversion after it is read, once."""
    rng = random.Random(7)
    for _ in range(300):
        garbage = rng.randbytes(rng.randrange(50))
        stream = b"".join(2 * ascii_11(f"{n}000", range_=1) for n in range(10))
        found = heard(frames("ascii-11-twice"), stream[: rng.randrange(200)], garbage, stream)
        assert found[-8:] == [2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]


@settings(deadline=None)
@given(
    st.sampled_from(sorted(GOOD)),
    st.lists(st.one_of(st.binary(max_size=40), st.integers(0, 200)), max_size=12),
    st.lists(st.integers(0, 800), max_size=8),
)
def test_any_bytes_cut_anyhow_give_the_same(name: str, parts: list[bytes | int], places: list[int]) -> None:
    """Readings and troubles follow from the bytes, never from the reads they came in."""
    good = GOOD[name]
    stream = b"".join(p if isinstance(p, bytes) else good[p % len(good) :] for p in parts) + good

    def said(pieces: list[bytes]) -> list[object]:
        driver = frames(name)
        outs = [driver.start(0), *(driver.feed(p, 1) for p in pieces), driver.start(2)]
        rows = [
            (repr(v), repr(s), int(u), int(f))
            for o in outs
            for v, s, u, f in zip(
                o.readings.value, o.readings.resolution, o.readings.unit, o.readings.flags, strict=True
            )
        ]
        return [rows, _told(*outs), sum(o.skipped for o in outs)]

    ends = sorted(min(p, len(stream)) for p in places)
    pieces = [stream[a:b] for a, b in zip([0, *ends], [*ends, len(stream)], strict=True)]
    assert said(pieces) == said([stream])
    assert said([stream[i : i + 1] for i in range(len(stream))]) == said([stream])


@settings(deadline=None)
@given(
    st.sampled_from(sorted(GOOD.keys() - {"ascii-11-twice"})),
    st.lists(st.binary(max_size=30), max_size=6),
)
def test_no_byte_is_counted_twice_or_lost(name: str, parts: list[bytes]) -> None:
    """Every byte is part of a reading's frame, told in a trouble, or counted as skipped."""
    driver = frames(name)
    good = GOOD[name]
    stream = b"".join(p + good for p in parts)
    outs = [driver.start(0), driver.feed(stream, 1), driver.start(2)]
    told = sum(count for _, count in _told(*outs)) + sum(o.skipped for o in outs)
    frames_read = LENGTH[name] * sum(len(o.readings) for o in outs)
    assert told + frames_read == len(stream)


def test_a_weak_frame_alone_is_not_believed() -> None:
    """A start byte and an exclusive-or are one chance in 65,536: alone in noise they are no voltage."""
    alone = b"\x00\x01" + bcd_8("009999") + b"\x00\x01\x02"
    assert heard(frames("bcd-8-xor"), alone) == []
    assert heard(frames("bcd-8-xor"), bcd_8("002853") * 3) == [285.3, 285.3]


@pytest.mark.parametrize(
    ("wire", "kept"),
    [
        ("A A B B", [1.0, 2.0]),
        ("A A A A", [1.0, 1.0]),
        ("A # A A", [1.0, 1.0]),
        ("# A A A", [1.0, 1.0]),
        ("A B B C C", [1.0, 2.0, 3.0]),
        ("A # # B C C", [1.0, 2.0, 3.0]),
        ("A A # # B B", [1.0, 2.0]),
    ],
)
def test_a_conversion_that_is_sent_twice_is_one_reading(wire: str, kept: list[float]) -> None:
    """Also when one of the copies is damaged, or was missed at the start."""
    block = {"A": "1000", "B": "2000", "C": "3000", "#": "1x00"}
    stream = b"".join(ascii_11(block[c], range_=1) for c in wire.split())
    for size in (1, 5, len(stream)):
        pieces = [stream[i : i + size] for i in range(0, len(stream), size)]
        assert heard(frames("ascii-11-twice"), *pieces) == kept


def _silences(driver: Driver, *bursts: bytes, pause_ns: int = 40_000_000) -> tuple[list[float], list[Out]]:
    outs = [driver.start(0)]
    at = 0
    for burst in bursts:
        at += pause_ns
        for n in range(0, len(burst), 3):
            at += 1_000_000
            outs.append(driver.feed(burst[n : n + 3], at))
    wake = driver.wake_ns
    assert wake is not None
    outs += [driver.tick(wake - 1), driver.tick(wake)]
    return [v for o in outs for v in o.readings.value.tolist()], outs


def test_silence_alone_can_tell_frames() -> None:
    """Whatever the bytes are; a burst of the wrong length is none, nor is one whose sum is wrong."""
    good, other = _gap_frame("2853", 7), _gap_frame("2854", 9)
    values, outs = _silences(frames(GAPS), good, good + other, good[:3], other, other[:-1] + b"\x00", good)
    assert values == [285.3, 285.3, 285.4, 285.4, 285.3]
    assert sum(o.skipped for o in outs) == 0


def test_a_burst_that_was_joined_in_its_middle_is_skipped() -> None:
    """As in any stream."""
    values, outs = _silences(frames(GAPS), _gap_frame("2853")[2:], _gap_frame("2854"))
    assert (values, sum(o.skipped for o in outs), _told(*outs)) == ([285.4], 2, [])


def test_a_stream_without_any_silence_is_no_frame() -> None:
    """It is counted and told; memory is bounded; after the next silence frames are found."""
    driver = frames(GAPS)
    values, outs = _silences(driver, _gap_frame("2853") * 3000, _gap_frame("2854"))
    assert values == [285.4]
    assert sum(count for _, count in _told(*outs)) == 12_000


def test_a_silence_that_came_while_nobody_ticked_still_ends_a_burst() -> None:
    """The next bytes come too late to be of the same burst."""
    driver = frames(GAPS)
    driver.start(0)
    assert len(driver.feed(_gap_frame("2853"), SECOND).readings) == 0
    assert driver.feed(_gap_frame("2854")[:2], 2 * SECOND).readings.value.tolist() == [285.3]


def test_the_eighth_bit_may_be_parity() -> None:
    """Seven bits and odd parity read the same through a port that gives eight."""
    wire = GOOD["ascii-11-twice"]
    eight = bytes(b | (1 - bin(b).count("1") % 2) << 7 for b in wire)
    assert heard(frames("ascii-11-twice"), eight) == heard(frames("ascii-11-twice"), wire)


def test_a_comma_among_the_digits_is_a_point_where_that_is_described() -> None:
    """`patterns` says so; without it, the frame is no reading."""
    described: dict[str, Any] = {
        "line": {"baud": 9600},
        "frame": {"length": 8, "start": "$V", "end": "\r"},
        "value": {"kind": "ascii", "digits": ["3", "4", "5", "6", "7"], "unit": "V"},
    }
    wire = b"$V 12,5\r$V285,3\r$V-0,12\r"
    assert heard(frames(described), wire) == []
    described["value"]["patterns"] = {"0x2C": "."}
    assert heard(frames(described), wire) == [12.5, 285.3, -0.12]
