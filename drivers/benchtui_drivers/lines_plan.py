"""What a bench entry says about a meter that sends text lines, read strictly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from benchtui.driver.asking import Asking
from benchtui.driver.columns import LineReader
from benchtui.driver.contract import DriverOptions, LineDefaults
from benchtui.driver.framing import LineFramer
from benchtui.driver.grammar import OVERLOAD_WORDS, read_line, read_state
from benchtui.driver.options import Options
from benchtui.driver.pattern import Description, compiled
from benchtui.driver.recipe import Recipe
from benchtui.driver.words import PREFIXES, unit_word
from benchtui.model.readings import Flag
from benchtui.model.units import Unit

from .lines_shipped import described

_MEANINGS = {"hold": Flag.HOLD, "low_battery": Flag.LOW_BATTERY, "overload": Flag.OVERLOAD}
_ENDS = {"any": b"", "cr": b"\r", "lf": b"\n", "crlf": b"\r\n"}


@dataclass(frozen=True, slots=True)
class Plan:
    """What the driver is made of."""

    reader: LineReader
    fits: Callable[[bytes], bool]
    """Whether a line is a reading."""
    comma: bool
    """Whether a comma between digits is their decimal sign."""
    framer: LineFramer
    repeats: int
    at_start: bytes
    asking: Asking | None
    """None for a meter that sends by itself."""
    line: LineDefaults


def read_plan(options: DriverOptions) -> Plan:
    """The plan that these options make.

    Raises:
        DriverError: an option is unknown or wrong.
    """
    keys, line = described(options.options)
    given = Options(keys, "lines")
    read, literal, alike = _reading(given, options.measures)
    ends = given.choice("terminator", tuple(_ENDS), "any")
    plan = Plan(
        reader=LineReader(read, literal=literal, by_shape=alike, resolution=given.count("resolution")),
        fits=lambda line: read(line) is not None,
        comma=given.choice("decimal", ("point", "comma"), "point") == "comma",
        framer=LineFramer("any" if ends == "crlf" else ends, strip_high_bit=given.flag("strip_high_bit")),
        repeats=given.whole("repeats", 1, 1, 10),
        at_start=_bytes(given, "at_start", _ENDS[ends]),
        asking=_asking(given, _ENDS[ends]),
        line=line,
    )
    given.finish()
    return plan


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
