"""What a bench entry asks of a SCPI meter, read strictly."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchtui.driver.contract import DriverOptions
from benchtui.driver.options import Options
from benchtui.model.notes import plain
from benchtui.model.units import BY_SYMBOL, Unit

from .scpi_function import QUESTIONS
from .scpi_text import FUNCTIONS

_ENDS = {"lf": b"\n", "cr": b"\r", "crlf": b"\r\n"}


@dataclass(frozen=True, slots=True)
class Ask:
    """One question for readings, and what becomes of each value of its answer."""

    text: str
    channels: tuple[int | None, ...]
    """For each value the driver's channel; None for one that is left out."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What the bench entry asks for."""

    asks: tuple[Ask, ...]
    """Asked one after the other, round and round."""
    channels: tuple[str, ...]
    measures: tuple[Unit, ...]
    """Of each channel."""
    configure: str
    at_start: tuple[str, ...]
    end: bytes
    every_ns: int
    within_ns: int
    errors_every_ns: int
    identify: bool
    errors: bool
    resolution: float | None
    function: tuple[str, ...]
    """Questions for what the meter is set to, to be tried in this order; none: it is not asked."""
    function_every_ns: int


def read_plan(options: DriverOptions) -> Plan:
    """The plan that these options make.

    Raises:
        DriverError: an option is unknown or wrong.
    """
    given = Options(options.options, "scpi")
    request = _question(given, "request", given.text("request", "READ?"))
    channels = _channels(given, options.measures)
    asks, names, units = _asks(given, channels, request)
    own_requests = len(asks) > 1 or any(c.request for c in channels)
    sets_itself = own_requests or _sets_itself(request)
    plan = Plan(
        asks=asks,
        channels=names,
        measures=units,
        configure=_configure(given, options.measures, sets_itself),
        at_start=tuple(_checked(given, "at_start", t) for t in given.texts("at_start")),
        end=_ENDS[given.choice("terminator", tuple(_ENDS), "lf")],
        every_ns=int(given.seconds("every", 0.5, 0.0) * 1e9),
        within_ns=int(given.seconds("answer_within", 3.0, 0.02, 60.0) * 1e9),
        errors_every_ns=int(given.seconds("errors_every", 10.0, 0.1) * 1e9),
        identify=given.flag("identify", True),
        errors=given.flag("errors", True),
        resolution=given.count("resolution"),
        function=_function(given, sets_itself or len(names) > 1),
        function_every_ns=int(given.seconds("function_every", 5.0, 0.0) * 1e9),
    )
    given.finish()
    return plan


def _sets_itself(request: str) -> bool:
    """Whether a question names the function that it measures: MEASure does, and CONFigure before it."""
    return request.upper().lstrip(":").startswith(("MEAS", "CONF"))


def _configure(given: Options, measures: Unit, sets_itself: bool) -> str:
    """What sets the meter to its function; empty where nothing does."""
    said = given.raw("configure")
    if isinstance(said, str):
        return _checked(given, "configure", said)
    if said is not None and not isinstance(said, bool):
        given.wrong("configure", "write false, or the command to send")
    function = FUNCTIONS.get(measures)
    if said is False or function is None or (sets_itself and said is None):
        return ""
    return f"CONF:{function}"


def _function(given: Options, needless: bool) -> tuple[str, ...]:
    """What to ask for the function; nothing where every question for a reading sets it, or several differ."""
    said = given.raw("function")
    if isinstance(said, str):
        return (_question(given, "function", said),)
    if said is not None and not isinstance(said, bool):
        given.wrong("function", 'write false, or the question to ask, like "FUNC?"')
    return () if said is False or (needless and said is None) else QUESTIONS


@dataclass(frozen=True, slots=True)
class _Channel:
    name: str
    measures: Unit
    request: str = ""


def _channels(given: Options, measures: Unit) -> tuple[_Channel, ...]:
    """Each value of an answer, or each question of its own, as named."""
    said = given.raw("channels")
    if said is None:
        return (_Channel("", measures),)
    if not isinstance(said, list) or not all(isinstance(c, (str, Mapping)) for c in said):
        given.wrong("channels", 'write a list of names, like ["B+1", "B+2"], or of tables with name, request')
        return (_Channel("", measures),)
    channels = tuple(_channel(given, c, measures) for c in said)
    named = [c.name for c in channels if c.name]
    if not channels or (len(channels) > 1 and not named):
        given.wrong("channels", "must name at least one value")
        return (_Channel("", measures),)
    if len(set(named)) < len(named):
        given.wrong("channels", "names the same channel twice")
    if any(c.request for c in channels) and not all(c.request and c.name for c in channels):
        given.wrong("channels", "where one has a request of its own, each needs a name and a request")
    return channels


def _channel(given: Options, said: str | Mapping[str, Any], measures: Unit) -> _Channel:
    if isinstance(said, str):
        return _Channel(said, measures)
    strange = [key for key in said if key not in ("name", "request", "measures")]
    if strange:
        given.wrong(
            "channels", f"a channel has no {plain(str(strange[0]), 40)}: only name, request, measures"
        )
    name, unit, request = said.get("name", ""), said.get("measures", measures.symbol), said.get("request", "")
    if not (isinstance(name, str) and isinstance(unit, str) and isinstance(request, str)):
        given.wrong("channels", "name, request and measures of a channel are texts")
        return _Channel("", measures)
    if unit and unit not in BY_SYMBOL:
        given.wrong("channels", f"measures: “{plain(unit, 20)}” is none of: {', '.join(BY_SYMBOL)}")
    return _Channel(
        name, BY_SYMBOL.get(unit, Unit.UNKNOWN), _question(given, "channels", request) if request else ""
    )


def _asks(
    given: Options, channels: tuple[_Channel, ...], request: str
) -> tuple[tuple[Ask, ...], tuple[str, ...], tuple[Unit, ...]]:
    """The questions, and name and unit of each channel that they fill."""
    taken = [c for c in channels if c.name or len(channels) == 1]
    names, units = tuple(c.name for c in taken), tuple(c.measures for c in taken)
    if all(c.request for c in channels):
        return tuple(Ask(c.request, (n,)) for n, c in enumerate(taken)), names, units
    numbers = iter(range(len(taken)))
    places = tuple(next(numbers) if c in taken else None for c in channels)
    return (Ask(request, places),), names, units


def _question(given: Options, key: str, text: str) -> str:
    checked = _checked(given, key, text)
    if "?" not in checked:
        given.wrong(key, "must be a question, with a ? in it")
    return checked


def _checked(given: Options, key: str, text: str) -> str:
    if text and text.isascii() and text.isprintable():
        return text
    given.wrong(key, "write a command in plain characters; its end is sent by itself")
    return "?"
