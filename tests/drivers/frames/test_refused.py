"""A description that can't be right is refused when it is read: all its mistakes at once."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from benchtui_drivers.frames_shipped import names, shipped
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.model.errors import DriverError
from benchtui.model.notes import plain

from .wires import frames

GOOD: dict[str, Any] = {
    "line": {"baud": 2400},
    "frame": {"length": 9, "start": [0x02], "end": [0x0D, 0x0A]},
    "value": {"kind": "ascii", "digits": ["2", "3", "4", "5"]},
    "flags": {"6.0": "V", "6.1": "A"},
    "code": [{"at": "7", "means": {"0x30": "DC", "1": "AC"}}],
}


def _refused(description: object) -> list[str]:
    with pytest.raises(DriverError) as failed:
        frames(description)
    return [line.removeprefix("meter A: ") for line in str(failed.value).splitlines()]


def _with(**changes: Any) -> dict[str, Any]:
    """GOOD, with these tables changed key by key; a key that is None is taken out."""
    given = copy.deepcopy(GOOD)
    for table, keys in changes.items():
        if not isinstance(keys, dict):
            given[table] = keys
            continue
        merged = {**given.get(table, {}), **keys}
        given[table] = {k: v for k, v in merged.items() if v is not None}
    return given


def test_what_the_others_are_a_change_of_is_good() -> None:
    """Else each would be refused for another reason."""
    assert frames(GOOD).line.baud == 2400


MISTAKES: list[tuple[dict[str, Any], str]] = [
    ({"value": {"digits": ["2", "3", "4", "2"]}}, "digit 4: overlaps with digit 1: both use 2.0"),
    ({"flags": {"4.6": "hold"}}, "digit 3: overlaps with [flags] 4.6: both use 4.6"),
    ({"value": {"digits": ["1", "2"]}}, "digit 1: overlaps with [frame] start: both use 1.0"),
    ({"check": {"kind": "xor", "over": "1-6", "at": "7"}}, "[[code]] 1: overlaps with [check] at"),
    ({"value": {"digits": ["2", "10"]}}, "[value] digits: byte 10 is outside the frame, whose bytes are 1"),
    ({"flags": {"6.0": "volts"}}, "[flags] 6.0: “volts” is no meaning; it can be: V A ohm F"),
    ({"code": [{"at": "7", "means": {"A": "V Q"}}]}, "[[code]] 1.means A: “Q” is no meaning"),
    ({"code": [{"at": "7", "means": {"AB": "V"}}]}, "[[code]] 1.means AB: is no code for 7"),
    ({"code": [{"at": "7", "means": {"0x100": "V"}}]}, "does not fit into the 8 bits at 7"),
    ({"frame": {"length": 0}}, "[frame] length: 0 is not between 2 and 256"),
    ({"frame": {"length": None}}, "[frame] length: is needed"),
    ({"frame": {"length": 1000}}, "[frame] length: 1000 is not between 2 and 256"),
    ({"frame": {"lenght": 9}}, "[frame] lenght: the driver frames has no such key; did you mean length?"),
    ({"frame": {"start": None, "end": None}}, "[frame]: nothing tells where a frame begins"),
    ({"frame": {"start": [300]}}, "[frame] start: write the bytes as a list, like [0xAA, 0x55]"),
    ({"frame": {"index": "high", "start": None, "end": None, "length": 17}}, "half a byte counts to 15"),
    ({"frame": {"gap": "5 ms"}}, "[frame] gap: 0.005 s is not between 0.02 s and 2 s"),
    ({"line": {"baud": None}}, "[line] baud: is needed"),
    ({"line": {"parity": "uneven"}}, "[line] parity: “uneven” is none of: none, even, odd, mark, space"),
    ({"line": {"stop": 3}}, "[line] stop: must be 1, 1.5 or 2"),
    ({"value": {"kind": "hex"}}, "[value] kind: is needed, one of: segments, bcd, ascii, binary"),
    ({"value": {"kind": "segments"}}, "[value] segments: name the segments of a digit"),
    ({"value": {"kind": "segments", "segments": "a b c d e f g"}}, "“2” has 8 bits for 7 segments"),
    ({"value": {"shows": {"OL": "over"}}}, "[value] shows: “over” is none of: overload, invalid"),
    ({"value": {"shows": {"000": "overload"}}}, "[value] shows: “000” is no word"),
    ({"value": {"digits": ["2"] * 20}}, "[value] digits: are 20; at most 15"),
    ({"value": {"unit": "mVV"}}, "[value] unit: “mVV” is no meaning"),
    ({"point": {"behind": 1, "bits": {"6.5": 1}}}, "[point]: write one of: behind; bits; at with codes"),
    ({"point": {"bits": {"6": 1}}}, "[point].bits 6: must be one bit, like 4.3"),
    ({"function": {"at": "6.7-4", "counts": {"0x1": "3 mV"}}}, "“3” is not one count of the last digit"),
    ({"function": {"at": "6.7-4", "counts": {"0x1": ["1 V", "2 V"]}}}, "no range is described to choose by"),
    ({"check": {"kind": "crc", "over": "1-5", "at": "8-9", "width": 16}}, "[check] poly: is needed"),
    ({"check": {"kind": "sum", "over": "1-7", "at": "5"}}, "[check] at: stands within the bytes"),
    ({"check": {"kind": "xor", "over": "9-1", "at": "7"}}, "“9-1” must name the lower byte first"),
    ({"ask": {"every": "1 s"}}, "[ask] send: is needed"),
    ({"source": "the internet"}, "source: “the internet” is none of: from a published"),
    ({"colour": "red"}, "colour: the driver frames has no such key"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "told"), MISTAKES)
def test_a_mistake_is_named_with_its_place_and_what_to_write(changes: dict[str, Any], told: str) -> None:
    """Overlaps, places outside the frame, meanings that nobody knows, frames that nothing tells apart."""
    problems = _refused(_with(**changes))
    assert any(told in p for p in problems), problems


def test_all_mistakes_are_told_at_once() -> None:
    """Nobody corrects one, to be told of the next."""
    wrong = _with(frame={"lenght": 9}, line={"baud": "fast"}, flags={"6.0": "volts", "4.6": "hold"})
    told = "\n".join(_refused(wrong))
    for part in (
        "[frame] lenght",
        "[line] baud: write a whole number",
        "“volts”",
        "overlaps with [flags] 4.6",
    ):
        assert part in told


def test_a_frame_that_could_begin_in_its_own_middle_is_refused() -> None:
    """Two bytes AA with anything between: nobody could tell which begins. One more fixed byte tells."""
    two: dict[str, Any] = {
        "line": {"baud": 2400},
        "frame": {"length": 6, "start": [0xAA]},
        "value": {"kind": "binary", "number": "2-3"},
        "flags": {"4.0": "V"},
    }
    assert _refused(two) == [
        "[frame]: a frame could just as well begin at byte 2: describe more of what is fixed (start, end, "
        "fixed), a check, or the gap of silence between frames"
    ]
    for cure in (
        {"frame": {**two["frame"], "gap": "30 ms"}},
        {"check": {"kind": "sum", "over": "1-5", "at": "6"}},
    ):
        frames({**two, **cure})


@pytest.mark.parametrize(
    "wrong", ["nothing-14", "../frames/segments-14", "", "A" * 999, "x\x1b[2J", 7, None, []]
)
def test_a_description_that_is_not_there(wrong: object) -> None:
    """Its name is shown without anything that a screen would act on, beside the names that there are."""
    told = " ".join(_refused(wrong))
    assert "description" in told
    assert "\x1b" not in told
    if isinstance(wrong, str):
        assert "segments-14" in told


JUNK = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-300, 300), st.floats(), st.text(max_size=6),
              st.sampled_from(["1", "2-3", "9.7-4", "2.0", "V", "0x30", "ascii", "1 mV", "40 ms"])),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=6,
)  # fmt: skip


def _places(table: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The path of every value in nested tables and lists."""
    found = [path] if path else []
    items = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    for key, value in items:
        found += _places(value, (*path, key))
    return found


@settings(deadline=None, max_examples=200)
@given(st.sampled_from(names()), st.data())
def test_no_description_can_hurt(name: str, data: st.DataObject) -> None:
    """Whatever stands in place of a value: a driver that takes any bytes, or one clear error."""
    table = copy.deepcopy(shipped(name))
    for _ in range(data.draw(st.integers(1, 4))):
        *above, key = data.draw(st.sampled_from(_places(table)))
        inner: Any = table
        for step in above:
            inner = inner[step]
        if isinstance(inner, dict) and data.draw(st.booleans()):
            key = data.draw(
                st.one_of(st.text(max_size=6), st.sampled_from(["1.0", "2", "0x31", "at", "range"]))
            )
        inner[key] = data.draw(JUNK)
    try:
        driver = frames(table)
    except DriverError as error:
        assert "is broken" not in str(error), str(error)  # noqa: PT017
        assert all(line == plain(line, 2000) for line in str(error).split("\n"))  # noqa: PT017
        return
    driver.start(0)
    for n, piece in enumerate((b"\x00" * 50, bytes(range(256)), b"\x02\xaa0123456\r\n" * 9)):
        driver.feed(piece, n)
        driver.tick(n)
