"""What was heard, told: bytes as hex and text, what they look like, and what to do next."""

from __future__ import annotations

from benchtui.driver.framing import shown
from benchtui.driver.guess import Guess
from benchtui.driver.guess_frames import Column
from benchtui.driver.trial import Chunk, Fit

ROW = 16
SILENCE = (
    "Nothing came. Is the meter on, and its data output switched on (often a key held down, or a menu)? "
    "Meters fall asleep by themselves. An isolated adapter may have to be powered by the port: try "
    "--dtr on --rts off with `benchtui meters listen`, and then the other way round. "
    "A meter that has to be asked says nothing by itself: benchtui meters --identify PORT --ask"
)
UNCLEAR = (
    "Bytes come, but nothing in them repeats: check the speed. Usual are 2400, 9600 and 19200; the meter's "
    "manual or menu says which, and the parity"
)
_SHOWN = frozenset(range(0x20, 0x7F))


def rows(chunk: Chunk) -> list[str]:
    """Lines of at most 16 bytes: time, hex, text with a dot for every byte that is no plain character."""
    lines = []
    for at in range(0, len(chunk.data), ROW):
        piece = chunk.data[at : at + ROW]
        text = "".join(chr(b) if b in _SHOWN else "." for b in piece)
        lines.append(f"{chunk.at_ns / 1e9:9.3f}  {piece.hex(' '):<{3 * ROW - 1}}  |{text}|")
    return lines


def looks_like(found: Guess) -> list[str]:
    """What it looks like, a fact a line."""
    if found.kind == "silence":
        return [SILENCE]
    if found.kind == "few":
        return [f"Only {found.total} bytes came: too few to say more. Listen longer, with --for 30"]
    if found.kind == "unclear":
        every = f". They come in bursts, one every {found.period_s:.3g} s" if found.period_s else ""
        return [UNCLEAR + every]
    every = f", one every {found.period_s:.3g} s" if found.period_s else ""
    low, high = found.lengths
    size = f"{low}" if low == high else f"{low} to {high}"
    if found.kind == "lines":
        said = [f"Text lines that end in {found.ends}, {size} bytes long{every}"]
    else:
        assert found.framing is not None
        said = [f"Frames of {size} bytes{every}, told apart by {_how(found)}"]
    if found.seven_bit:
        said.append(f"Seven data bits and a parity bit: bits 7, parity {found.seven_bit}")
    if found.kind == "lines":
        said.append(f"The last one: “{shown(found.frames[-1].strip())}”")
    elif found.columns:
        said += [
            f"In {len(found.frames)} of them these bytes were always the same: {_fixed(found.columns)}",
            f"and these changed: {_changing(found.columns)}",
        ]
    return said


def evidence(fit: Fit) -> str:
    """How much of what came makes sense, how often, and the last value."""
    rate = f", {fit.rate:.2g} a second" if fit.rate else ""
    junk = "every byte fits" if not fit.junk else f"{fit.junk} of {fit.total} bytes do not fit"
    return f"{fit.readings} readings{rate}; {junk}; the last one: {value(fit)}"


def value(fit: Fit) -> str:
    """The last value as the digits on the wire have it, in SI units."""
    if fit.value is None:
        return f"over range {fit.unit.symbol}".strip()
    if fit.resolution > 0 and abs(fit.value) < 1e15:
        places = 0
        while places < 15 and fit.resolution * 10**places < 0.999:
            places += 1
        text = f"{fit.value:.{places}f}"
    else:
        text = f"{fit.value:g}"
    return f"{text} {fit.unit.symbol}".strip()


def _how(found: Guess) -> str:
    framing = found.framing
    assert framing is not None
    if framing.how == "index":
        return f"a number that counts up in the {framing.half} half of each byte, from {framing.first}"
    if framing.how == "silence":
        return f"silence of {framing.gap_s:.2g} s or more"
    return "bytes that come again at this distance"


def _fixed(columns: tuple[Column, ...]) -> str:
    some = [f"{n}={c.value:02X}" for n, c in enumerate(columns, 1) if c.is_fixed]
    return " ".join(some) or "none"


def _changing(columns: tuple[Column, ...]) -> str:
    some = []
    for n, column in enumerate(columns, 1):
        if not column.is_fixed:
            what = "digits" if column.is_digit else f"{len(column.seen)} values"
            some.append(f"{n} ({what})")
    return " ".join(some) or "none: let the meter show different values meanwhile"
