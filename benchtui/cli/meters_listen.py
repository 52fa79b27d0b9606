"""`benchtui meters listen`: every byte as it comes, then what it looks like and what to do with it."""

from __future__ import annotations

import argparse

from benchtui.driver.candidate import candidates
from benchtui.driver.contract import LineDefaults
from benchtui.driver.description import MeterDescription
from benchtui.driver.guess import Guess, guess
from benchtui.driver.identifying import fitting, listening
from benchtui.driver.trial import Chunk
from benchtui.model.readings import Channel
from benchtui.port.clock import Clock
from benchtui.port.descriptions import own_candidates, resolved
from benchtui.port.hearing import Heard, hear
from benchtui.port.opener import PortSettings
from benchtui.port.ports import known_ports, stable_name
from benchtui.store import wirelog

from .console import say, say_error
from .meters_begun import say_begun, say_own
from .meters_found import say_found
from .meters_text import looks_like, rows
from .paragraph import say_wrapped

NAME = "unknown"
"""The meter's name in a wire log of bytes nobody understands yet."""


def listen(args: argparse.Namespace) -> int:
    """Shows what comes until the time is up or ctrl+c; gives the exit status.

    Raises:
        BenchError: the port cannot be opened, or the wire log cannot be made.
    """
    settings = PortSettings(
        args.port, args.baud, args.bits, args.parity, args.stop, _level(args.dtr), _level(args.rts)
    )
    clock = Clock()
    log = _wire_log(args, clock) if args.wire else None
    if log is not None:
        log.event(clock.now_ns(), NAME, "start")

    def told(chunk: Chunk) -> None:
        if log is not None:
            log.rx(chunk.at_ns, NAME, chunk.data)
            log.upto(chunk.at_ns)
        for row in rows(chunk):
            say(row)

    say(f"Listening on {args.port} at {args.baud} baud; nothing is sent.")
    try:
        heard = hear(settings, args.seconds, clock, told)
    finally:
        if log is not None:
            log.end(clock.now_ns())
    say("")
    for note in heard.notes:
        say(f"Note: {note}")
    found = guess(heard.chunks)
    for line in looks_like(found):
        say_wrapped(line)
    _what_next(args, heard, found)
    if log is not None:
        say_error(log.problem) if log.problem else say(f"The bytes are in {args.wire}")
    if heard.lost:
        say_error(f"{args.port}: {heard.lost}")
        return 2
    return 0


def _what_next(args: argparse.Namespace, heard: Heard, found: Guess) -> None:
    """The bench entry if a driver fits, else the beginnings of a description."""
    if found.kind in ("silence", "few"):
        return
    ways = listening((*own_candidates(), *candidates()), resolved)
    line = LineDefaults(args.baud, args.bits, args.parity, args.stop)
    say_own(heard.chunks, line)
    fits = fitting(ways, heard.chunks, resolved, line)
    stable = stable_name(args.port, known_ports())
    if fits:
        said = {"dtr": _level(args.dtr), "rts": _level(args.rts)}
        pins = {pin: level for pin, level in said.items() if level is not None}
        say_found(fits, stable, "A", pins)
        return
    say_begun(found, heard.chunks, line, stable, "A")


def _level(said: str | None) -> bool | None:
    return None if said is None else said == "on"


def _wire_log(args: argparse.Namespace, clock: Clock) -> wirelog.WireLog:
    meter = MeterDescription(NAME, "lines", port=args.port)
    header = wirelog.Header(clock.started.isoformat(), (Channel(NAME, NAME),), (meter,))
    return wirelog.WireLog(args.wire, header)
