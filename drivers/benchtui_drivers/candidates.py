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
    return (Candidate("scpi", title, {"configure": False}, (9600, 19200, 115200, 38400, 57600), sends=sends),)


def stations() -> tuple[Candidate, ...]:
    """Asks station 1 of a Modbus line for a register; called after those that speak text.

    Functions 3 and 4 only read (Modbus Application Protocol V1.1b3, 6.3 and 6.4; from memory). Other stations
    are not called: there may be 247 of them.
    """
    title = "station 1 on a Modbus line; which registers hold what stands in its manual (guide modbus.md)"
    sends = "a request to station 1 to read its first input and holding register (functions 4 and 3)"
    options = {
        "register": [
            {"name": kind, "station": 1, "function": function, "address": 0, "type": "uint16"}
            for kind, function in (("input", 4), ("holding", 3))
        ],
        "echo": False,
    }
    return tuple(
        Candidate("modbus", title, options, bauds, parity, sends)
        for bauds, parity in (((19200, 9600), "even"), ((9600, 19200), "none"))
    )
