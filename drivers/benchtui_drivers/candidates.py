"""What the built-in drivers can be tried as, when it is not known what a meter speaks."""

from __future__ import annotations

from benchtui.driver.candidate import Candidate

from . import frames_shipped, lines_shipped

_BAUDS = (9600, 2400, 19200, 115200, 4800, 38400, 57600, 1200)


def frames() -> tuple[Candidate, ...]:
    """Every description of frames that comes with the program."""
    return tuple(
        Candidate("frames", str(frames_shipped.shipped(name).get("title", name)), {"description": name})
        for name in frames_shipped.names()
    )


def lines() -> tuple[Candidate, ...]:
    """Text lines of any common form; the first of these covers the descriptions that come with it."""
    found = [
        Candidate("lines", str(lines_shipped.shipped(name).get("title", name)), {"description": name}, _BAUDS)
        for name in lines_shipped.names()
    ]
    comma = {"description": "value-unit", "decimal": "comma"}
    title = "a value a line, with or without its unit, written with a decimal comma: 285,3 V"
    return (*found, Candidate("lines", title, comma, _BAUDS))


def scpi() -> tuple[Candidate, ...]:
    """Asks who is there and for a reading; sets nothing."""
    title = "a meter that answers questions in SCPI (IEEE 488.2)"
    sends = "*IDN? (who are you), SYST:ERR?, FUNC? and READ? (one reading); it sets nothing"
    return (Candidate("scpi", title, {"configure": False}, (9600, 19200, 115200, 38400, 57600), sends),)
