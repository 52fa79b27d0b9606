"""Meters that send text lines: a number a line, a value with its unit, or as described in the bench entry.

With no option at all it reads `285.3`, `285.3 V DC`, `DC mV -12.5`, `OL kohm` and the like. Options:

    pattern         a regular expression that the whole line must fit, with the groups value (needed), unit,
                    prefix, flags and sign
    units           what the wire writes -> unit word: { "DCV" = "V", "~" = "mVac" }
    prefixes        what the wire writes -> SI prefix: { "1" = "m" }
    overload        words for "over range": ["OL"]
    minus           what the group sign says for a negative value: ["-"]
    flags           what the wire writes -> hold, low_battery or overload: { "H" = "hold" }
    resolution      one count of the last digit, where the digits written do not tell: "0.1 V"
    terminator      any (CR, LF or both), cr, lf, crlf
    repeats         how many times each conversion is sent
    strip_high_bit  true where the eighth bit is parity
    request         what to send for a reading; with it: every ("0.5 s"), answer_within ("1 s")
    at_start        what to send once after opening
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from benchtui.driver.asking import Asking
from benchtui.driver.columns import LineReader, Rows
from benchtui.driver.contract import Driver, DriverOptions, LineDefaults, Out
from benchtui.driver.framing import LONGEST, LineFramer, looks_like_text
from benchtui.driver.grammar import OVERLOAD_WORDS, read_line, read_state
from benchtui.driver.junk import Junk
from benchtui.driver.options import Options
from benchtui.driver.pattern import Description, compiled
from benchtui.driver.recipe import Recipe
from benchtui.driver.words import PREFIXES, unit_word
from benchtui.model.notes import Trouble
from benchtui.model.readings import Flag, Readings
from benchtui.model.units import Unit

_MEANINGS = {"hold": Flag.HOLD, "low_battery": Flag.LOW_BATTERY, "overload": Flag.OVERLOAD}
_ENDS = {"any": b"", "cr": b"\r", "lf": b"\n", "crlf": b"\r\n"}


class LinesDriver:
    """One meter that sends text lines, by itself or when asked."""

    channels: tuple[str, ...] = ("",)
    line = LineDefaults()

    def __init__(
        self, reader: LineReader, framer: LineFramer, *, repeats: int, at_start: bytes, asking: Asking | None
    ) -> None:
        self._reader = reader
        self._framer = framer
        self._repeats = repeats
        self._at_start = at_start
        self._asking = asking
        self._junk = Junk("line")
        self._joined = bytearray()
        self._previous = b""
        self._copies = 0
        self._copy_kept = False

    def start(self, at_ns: int) -> Out:
        """Joins the stream wherever it is: the first piece of a line is thrown away and counted."""
        skipped = len(self._framer.restart()) + len(self._joined)
        self._joined.clear()
        self._copies = 0
        if self._asking is not None:
            self._asking.start(at_ns)
        return Out(troubles=self._junk.good(at_ns), send=self._at_start, skipped=skipped)

    def feed(self, data: bytes, at_ns: int) -> Out:
        """Bytes; any complete line in them is a reading, or junk."""
        if self._asking is not None and self._asking.settling:
            return Out(skipped=len(data))
        got = self._framer.feed(data)
        troubles: list[Trouble] = []
        skipped = 0
        if got.joined:
            skipped = self._join(got.before, at_ns, troubles, ended=got.ended)
        else:
            troubles += self._junk.add(got.before, at_ns)
        readings = self._read(got.block, at_ns, troubles) if got.block else Readings.empty()
        troubles += self._junk.add(got.after, at_ns)
        send = b""
        if self._asking is not None and got.block.strip(b"\n"):
            send = self._asking.answered(at_ns)
        return Out(readings, tuple(troubles), send, skipped=skipped)

    def tick(self, at_ns: int) -> Out:
        """Asks when it is time to; tells junk that nothing has followed."""
        troubles = list(self._junk.tick(at_ns))
        send = b""
        if self._asking is not None and (send := self._asking.tick(at_ns)):
            troubles += self._junk.add(self._framer.restart(synchronised=True), at_ns)
        return Out(troubles=tuple(troubles), send=send)

    @property
    def wake_ns(self) -> int | None:
        """The next question, or the next time to tell junk."""
        due = [self._junk.wake_ns, None if self._asking is None else self._asking.wake_ns]
        return min((d for d in due if d is not None), default=None)

    def _join(self, piece: bytes, at_ns: int, troubles: list[Trouble], *, ended: bool) -> int:
        """The rest of a line that was joined in its middle; gives the bytes to count as skipped.

        A piece of a clean line is what joining always costs; anything else is junk.
        """
        self._joined += piece
        joined = bytes(self._joined)
        if len(joined) > LONGEST or not looks_like_text(joined):
            self._joined.clear()
            troubles += self._junk.add(joined, at_ns)
            return 0
        if not ended:
            return 0
        self._joined.clear()
        return len(joined)

    def _read(self, block: bytes, at_ns: int, troubles: list[Trouble]) -> Readings:
        rows = self._reader.rows(block)
        lines: list[bytes] = []
        if rows.junk or self._repeats > 1:
            lines = block.split(b"\n")
        if rows.junk:
            self._tell_junk(rows, lines, at_ns, troubles)
        elif len(rows.line):
            troubles += self._junk.good(at_ns)
        kept = slice(None) if self._repeats == 1 else self._without_copies(rows, lines)
        value = rows.value[kept]
        n = len(value)
        return Readings(
            np.full(n, at_ns, np.int64), np.zeros(n, np.int16), rows.unit[kept],
            value, rows.resolution[kept], rows.flags[kept],
        )  # fmt: skip

    def _tell_junk(self, rows: Rows, lines: list[bytes], at_ns: int, troubles: list[Trouble]) -> None:
        """Takes good and bad lines in the order in which they came."""
        good = set(rows.line.tolist())
        bad = set(rows.junk)
        for number, line in enumerate(lines):
            if number in bad:
                troubles += self._junk.add(line, at_ns)
            elif number in good:
                troubles += self._junk.good(at_ns)

    def _without_copies(self, rows: Rows, lines: list[bytes]) -> list[int]:
        """The rows that begin a conversion: each is sent `repeats` times, a damaged copy counts as one."""
        row_of = {number: row for row, number in enumerate(rows.line.tolist())}
        bad = set(rows.junk)
        kept: list[int] = []
        for number, line in enumerate(lines):
            if number not in row_of and number not in bad:
                continue
            if self._copies == 0:
                self._copy_kept = False
            if number in bad:
                self._copies += 1
            elif not self._copy_kept or line != self._previous:
                kept.append(row_of[number])
                self._copies = self._copies + 1 if not self._copy_kept else 1
                self._previous, self._copy_kept = line, True
            else:
                self._copies += 1
            self._copies %= self._repeats
        return kept


def open_driver(options: DriverOptions) -> Driver:
    """A driver for one meter that sends text lines.

    Raises:
        DriverError: an option is unknown or wrong.
    """
    given = Options(options.options, "lines")
    read, literal, alike = _reading(given, options.measures)
    reader = LineReader(read, literal=literal, by_shape=alike, resolution=_resolution(given))
    ends = given.choice("terminator", tuple(_ENDS), "any")
    framer = LineFramer("any" if ends == "crlf" else ends, strip_high_bit=given.flag("strip_high_bit"))
    repeats = given.whole("repeats", 1, 1, 10)
    driver = LinesDriver(
        reader,
        framer,
        repeats=repeats,
        at_start=_bytes(given, "at_start", _ENDS[ends]),
        asking=_asking(given, _ENDS[ends]),
    )
    given.finish()
    return driver


def _reading(
    given: Options, measures: Unit
) -> tuple[Callable[[bytes], Recipe | None], tuple[str, ...], bool]:
    """How one line is read, the words with digits in them, and whether all digits are alike to it."""
    overload = given.texts("overload", OVERLOAD_WORDS)
    described = _description(given, measures, overload)
    if described is not None:
        return described.read, overload, described.digits_alike
    if measures is Unit.STATE:
        return read_state, (), False
    return lambda line: read_line(line, measures, overload), overload, True


def _description(given: Options, measures: Unit, overload: tuple[str, ...]) -> Description | None:
    source = given.text("pattern")
    units, prefixes, flags = given.table("units"), given.table("prefixes"), given.table("flags")
    minus = given.texts("minus", ("-",))
    if not source:
        for key in ("units", "prefixes", "flags", "minus"):
            if given.given(key):
                given.wrong(key, "means something only beside a pattern")
        return None
    for wire, word in units.items():
        if unit_word(word) is None:
            given.wrong("units", f"“{word}” (for “{wire}”) is no unit; write V, Vac, mV, kohm, A, Hz …")
    for wire, letter in prefixes.items():
        if letter not in PREFIXES:
            given.wrong("prefixes", f"“{letter}” (for “{wire}”) is no prefix; write p n u m k M or G")
    for wire, meaning in flags.items():
        if meaning not in _MEANINGS:
            given.wrong("flags", f"“{meaning}” (for “{wire}”) is none of: {', '.join(_MEANINGS)}")
    try:
        pattern = compiled(source)
    except ValueError as error:
        given.wrong("pattern", str(error))
        return None
    return Description(
        pattern=pattern,
        measures=measures,
        units=units,
        prefixes={**PREFIXES, **{w: PREFIXES.get(letter, 0) for w, letter in prefixes.items()}},
        flags={wire: _MEANINGS.get(meaning, Flag(0)) for wire, meaning in flags.items()},
        overload=overload,
        minus=minus,
    )


def _resolution(given: Options) -> float | None:
    """One count, written as a number in SI units or as a value with its unit."""
    said = given.raw("resolution")
    if said is None:
        return None
    recipe = read_line(said.encode(), Unit.UNKNOWN) if isinstance(said, str) else None
    value = float(said) if type(said) in (int, float) else recipe.read(said.encode())[0] if recipe else 0.0
    if value > 0:
        return value
    given.wrong("resolution", 'write one count of the last digit, like "0.1 V"')
    return None


def _asking(given: Options, end: bytes) -> Asking | None:
    request = _bytes(given, "request", end)
    every, within = given.seconds("every", 0.5, 0.01), given.seconds("answer_within", 1.0, 0.02)
    if request:
        return Asking(request, int(every * 1e9), int(within * 1e9))
    for key in ("every", "answer_within"):
        if given.given(key):
            given.wrong(key, "means something only beside a request")
    return None


def _bytes(given: Options, key: str, end: bytes) -> bytes:
    """What to send: Latin-1, with the terminator behind it unless it ends so already."""
    said = given.text(key)
    try:
        data = said.encode("latin-1")
    except UnicodeEncodeError:
        given.wrong(key, "holds a character that no byte stands for")
        return b""
    return data + end if data and not data.endswith(end) else data
