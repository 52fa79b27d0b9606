"""What a bench entry asks of a SCPI meter, read strictly."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.driver.contract import DriverOptions
from benchtui.driver.options import Options
from benchtui.model.units import Unit

from .scpi_text import FUNCTIONS

_ENDS = {"lf": b"\n", "cr": b"\r", "crlf": b"\r\n"}


@dataclass(frozen=True, slots=True)
class Plan:
    """What the bench entry asks for."""

    measures: Unit
    request: str
    configure: str
    at_start: tuple[str, ...]
    channels: tuple[str, ...]
    """One name a value of an answer; an empty one among several is left out."""
    end: bytes
    every_ns: int
    within_ns: int
    errors_every_ns: int
    identify: bool
    errors: bool
    resolution: float | None


def read_plan(options: DriverOptions) -> Plan:
    """The plan that these options make.

    Raises:
        DriverError: an option is unknown or wrong.
    """
    given = Options(options.options, "scpi")
    request = _command(given, "request", "READ?")
    if "?" not in request:
        given.wrong("request", "must be a question, with a ? in it")
    plan = Plan(
        measures=options.measures,
        request=request,
        configure=_configure(given, options.measures, request),
        at_start=tuple(_checked(given, "at_start", t) for t in given.texts("at_start")),
        channels=_channels(given),
        end=_ENDS[given.choice("terminator", tuple(_ENDS), "lf")],
        every_ns=int(given.seconds("every", 0.5, 0.0) * 1e9),
        within_ns=int(given.seconds("answer_within", 3.0, 0.02, 60.0) * 1e9),
        errors_every_ns=int(given.seconds("errors_every", 10.0, 0.1) * 1e9),
        identify=given.flag("identify", True),
        errors=given.flag("errors", True),
        resolution=given.count("resolution"),
    )
    given.finish()
    return plan


def _configure(given: Options, measures: Unit, request: str) -> str:
    """What sets the meter to its function; empty where nothing does."""
    said = given.raw("configure")
    if isinstance(said, str):
        return _checked(given, "configure", said)
    if said is not None and not isinstance(said, bool):
        given.wrong("configure", "write false, or the command to send")
    function = FUNCTIONS.get(measures)
    sets_itself = request.upper().lstrip(":").startswith("MEAS")
    if said is False or function is None or (sets_itself and said is None):
        return ""
    return f"CONF:{function}"


def _channels(given: Options) -> tuple[str, ...]:
    names = given.texts("channels", ("",))
    named = [n for n in names if n]
    if not names or (len(names) > 1 and not named):
        given.wrong("channels", "must name at least one value")
        return ("",)
    if len(set(named)) < len(named):
        given.wrong("channels", "names the same channel twice")
    return names


def _command(given: Options, key: str, default: str) -> str:
    return _checked(given, key, given.text(key, default))


def _checked(given: Options, key: str, text: str) -> str:
    if text and text.isascii() and text.isprintable():
        return text
    given.wrong(key, "write a command in plain characters; its end is sent by itself")
    return "?"
