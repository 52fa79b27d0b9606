"""Bytes into lines: any cut the same, memory bounded, what is thrown away handed back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.driver.framing import LONGEST, LineFramer, looks_like_text, shown

STREAMS = st.lists(
    st.sampled_from([b"12.3", b"\r", b"\n", b"\r\n", b"x" * 300, b"\x00\xff", b"", b"OL"]), max_size=30
).map(b"".join)


def _all(framer: LineFramer, pieces: list[bytes]) -> tuple[list[bytes], int]:
    lines: list[bytes] = []
    thrown = 0
    for piece in pieces:
        got = framer.feed(piece)
        thrown += len(got.before) + len(got.after)
        lines += got.lines()
    return lines, thrown


def test_cr_lf_or_both_end_a_line() -> None:
    """A line may end in CR, LF, CR LF or LF CR; empty lines mean nothing."""
    assert _all(LineFramer(synchronised=True), [b"1\r2\n3\r\n4\n\r5\r"])[0] == [b"1", b"2", b"3", b"4", b"5"]


@pytest.mark.parametrize(("ends", "lines"), [("cr", [b"1", b" 2"]), ("lf", [b"1 ", b"2 3 "])])
def test_only_the_named_end_ends_a_line(ends: str, lines: list[bytes]) -> None:
    """With a named end the other one is a blank."""
    stream = b"1\r\n2\r" if ends == "cr" else b"1\r\n2\r3\r\n"
    assert _all(LineFramer(ends, synchronised=True), [stream])[0] == lines


def test_an_unsynchronised_framer_throws_the_first_piece_away() -> None:
    """Nobody knows how much of the first piece is missing: 5.3 may be the end of 285.3."""
    got = LineFramer().feed(b"5.3\r\n285.3\r\n28")
    assert (got.before, got.joined, got.ended, got.lines()) == (b"5.3", True, True, [b"285.3"])


def test_a_line_that_never_ends_is_thrown_away_and_the_next_one_is_read() -> None:
    """10 kB without a line end cost no more memory than one line, and not the line behind them."""
    framer = LineFramer(synchronised=True)
    assert _all(framer, [b"x" * 10_000, b"\n285.3\n"]) == ([b"285.3"], 10_000)


@given(STREAMS, st.lists(st.integers(0, 2000), max_size=20), st.booleans())
def test_any_cut_gives_the_same_lines(stream: bytes, places: list[int], synchronised: bool) -> None:
    """Whole, byte by byte or cut anywhere: the same lines and the same number of bytes thrown away."""
    ends = sorted(min(p, len(stream)) for p in places)
    pieces = [stream[a:b] for a, b in zip([0, *ends], [*ends, len(stream)], strict=True)]

    def heard(cut: list[bytes]) -> tuple[list[bytes], int]:
        lines, thrown = _all(LineFramer(synchronised=synchronised), cut)
        short = [line for line in lines if len(line) <= LONGEST]
        return short, thrown + sum(len(line) for line in lines if len(line) > LONGEST)

    whole = heard([stream, b"\n"])
    assert heard([*pieces, b"\n"]) == whole
    assert heard([*(stream[i : i + 1] for i in range(len(stream))), b"\n"]) == whole


def test_the_eighth_bit_can_be_stripped() -> None:
    """A line with parity in the eighth bit reads as without it."""
    even = bytes(b | (bin(b).count("1") % 2) << 7 for b in b"285.3 V\r\n")
    assert _all(LineFramer(synchronised=True, strip_high_bit=True), [even])[0] == [b"285.3 V"]


@given(st.binary(max_size=200))
def test_what_is_shown_of_a_wire_is_harmless(data: bytes) -> None:
    """No control character of any kind gets through to a screen."""
    assert not any(ord(c) < 32 or 0x7F <= ord(c) <= 0x9F or 0x202A <= ord(c) <= 0x202E for c in shown(data))


def test_the_signs_of_units_look_like_text() -> None:
    """µ, Ω and ° belong to a meter's text, an escape does not."""
    assert looks_like_text("12 µA 3 kΩ 20 °C".encode())
    assert not looks_like_text(b"\x1b[2J")
