"""What bytes of an unknown meter look like: lengths, periods, places; and nothing made up about noise."""

from __future__ import annotations

import random
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.driver.guess import Guess, guess, parity_of
from benchtui.driver.proposal import checksum, proposal
from benchtui.driver.trial import Chunk
from tests.drivers.frames.wires import segments_14

MS = 1_000_000


def heard(pieces: list[bytes], every_ms: int = 250, cut: int = 0) -> list[Chunk]:
    """Pieces at an even pace; with `cut`, as an adapter hands them on: that many bytes at a time, at once."""
    if not cut:
        return [Chunk(n * every_ms * MS, piece) for n, piece in enumerate(pieces)]
    data = b"".join(pieces)
    return [Chunk(n * every_ms * MS, data[i : i + cut]) for n, i in enumerate(range(0, len(data), cut))]


def framed(n: int) -> bytes:
    """Two start bytes, five digits, a unit byte, a sum: made up, the usual form."""
    body = b"\xa5\x5a" + b"%05d" % (28500 + 7 * n % 100) + b"\x01"
    return body + bytes([sum(body) & 0xFF])


def test_silence_and_a_few_bytes_are_told_apart() -> None:
    """Neither is called anything else."""
    assert guess([]).kind == "silence"
    assert guess([Chunk(0, b"285.3\r\n")]).kind == "few"


@pytest.mark.parametrize(("end", "name"), [(b"\r\n", "CR LF"), (b"\n", "LF"), (b"\r", "CR")])
def test_lines_by_their_end(end: bytes, name: str) -> None:
    """Length with its end, period from line to line; the first piece, perhaps half a line, does not count."""
    found = guess(heard([b"5.1 V" + end, *(b"%d.0 V DC" % n + end for n in range(90, 110))]))
    assert (found.kind, found.ends, found.seven_bit) == ("lines", name, "")
    assert found.lengths == (9 + len(end), 10 + len(end))
    assert found.period_s == pytest.approx(0.25)
    assert found.framing is None


def test_seven_bits_and_a_parity_are_seen_through_eight() -> None:
    """Odd parity read as an eighth bit: the text is found all the same."""
    text = b"".join(b"%d.0 V\r\n" % n for n in range(280, 300))
    odd = bytes(b | (0x80 if b.bit_count() % 2 == 0 else 0) for b in text)
    even = bytes(b | (0x80 if b.bit_count() % 2 else 0) for b in text)
    assert [parity_of(d) for d in (text, odd, even, bytes(b | 0x80 for b in text))] == [
        "", "odd", "even", "mark",
    ]  # fmt: skip
    found = guess([Chunk(n * MS, odd[n : n + 5]) for n in range(0, len(odd), 5)])
    assert (found.kind, found.seven_bit, found.ends) == ("lines", "odd", "CR LF")


def test_frames_by_their_index() -> None:
    """14 bytes with index nibbles, joined in the middle and in pieces of any size."""
    frames = [segments_14(f"{n}", 1) for n in range(2850, 2870)]
    found = guess(heard([frames[0][5:], *frames], cut=11))
    assert found.framing is not None
    assert (found.framing.how, found.framing.length, found.framing.offset) == ("index", 14, 9)
    assert found.frames == tuple(frames)
    assert [n for n, c in enumerate(found.columns, 1) if not c.is_fixed] == [6, 8, 9]
    made = tomllib.loads(proposal(found, 2400))
    assert made["frame"] == {"length": 14, "index": "high"}
    assert made["line"] == {"baud": 2400}


def test_frames_by_the_silence_between_them() -> None:
    """Bursts of one length: their period, what is fixed and what changes, the sum at the end."""
    found = guess(heard([framed(n) for n in range(20)]))
    assert found.framing is not None
    assert (found.framing.how, found.framing.length) == ("silence", 9)
    assert found.period_s == pytest.approx(0.25)
    made = tomllib.loads(proposal(found, 9600))
    assert made["frame"] == {"length": 9, "gap": "125 ms", "start": [0xA5, 0x5A]}
    assert made["check"] == {"kind": "sum", "over": "1-8", "at": "9"}
    assert made["value"] == {"kind": "ascii", "digits": ["3", "4", "5", "6", "7"]}


@pytest.mark.parametrize("step", [1, -1], ids=["high first", "low first"])
def test_packed_digits(step: int) -> None:
    """Two decimal digits a byte, the one that changes most last or first; a byte that counts is not taken."""
    bodies = [bytes.fromhex(f"{285_000 + 37 * n % 400:06d}")[::step] for n in range(20)]
    frames = [bytes([0xA5, 0x5A, 0x20 + n]) + body + b"\x0f" for n, body in enumerate(bodies)]
    made = tomllib.loads(proposal(guess(heard(frames)), 9600))
    places = [4, 5, 6][::step]
    assert made["value"] == {
        "kind": "bcd",
        "digits": [f"{n}.{half}" for n in places for half in ("7-4", "3-0")],
    }


def test_frames_without_any_silence() -> None:
    """One after the other, joined in the middle: by what comes again."""
    data = b"".join(framed(n) for n in range(40))[4:]
    found = guess([Chunk(n * 10 * MS, data[n : n + 10]) for n in range(0, len(data), 10)])
    assert found.framing is not None
    assert (found.framing.how, found.framing.length) == ("repeat", 9)
    assert all(frame[:2] == b"\xa5\x5a" for frame in found.frames)


def test_frames_that_end_in_cr_are_cut_behind_it() -> None:
    """A binary frame with a fixed end."""
    rng = random.Random(3)
    frames = [b"\x82" + rng.randbytes(6).replace(b"\r", b"x") + b"\x90\r" for _ in range(40)]
    found = guess([Chunk(n * MS, frame) for n, frame in enumerate(frames)])
    assert found.framing is not None
    assert found.framing.length == 9
    assert all(frame.endswith(b"\r") for frame in found.frames)


@pytest.mark.parametrize("seed", range(20))
def test_noise_is_not_framed(seed: int) -> None:
    """Random bytes, in one stream or in bursts, are called unclear: the speed is probably wrong."""
    rng = random.Random(seed)
    stream = guess([Chunk(n * MS, rng.randbytes(8)) for n in range(60)])
    bursts = guess(heard([rng.randbytes(9) for _ in range(30)]))
    assert (stream.kind, bursts.kind) == ("unclear", "unclear")
    assert proposal(stream, 9600) == proposal(bursts, 9600) == ""


def test_a_checksum_is_found_only_where_it_holds_in_every_frame() -> None:
    """Exclusive-or over all but the start byte; one frame that breaks it, or too few frames: none."""
    frames = [b"\xaa" + bytes([n, n * 3 & 0xFF]) for n in range(1, 9)]
    xored = [f + bytes([f[1] ^ f[2]]) for f in frames]
    assert checksum(xored) == ("xor", "2-3", 4)
    assert checksum([*xored, b"\xaa\x01\x01\x55"]) is None
    assert checksum(xored[:3]) is None


@given(st.lists(st.binary(max_size=40), max_size=40), st.integers(0, 200))
def test_any_bytes_are_guessed_about_without_failing(pieces: list[bytes], every_ms: int) -> None:
    """Whatever comes: a kind, and TOML that can be read if anything is proposed."""
    found = guess(heard(pieces, every_ms))
    assert isinstance(found, Guess)
    assert found.kind in ("silence", "few", "lines", "frames", "unclear")
    tomllib.loads(proposal(found, 9600))
