"""`benchtui meters --identify PORT`: listens at the usual speeds, asks if told to, says what fits."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace

from benchtui.driver.candidate import Candidate, candidates
from benchtui.driver.contract import LineDefaults
from benchtui.driver.guess import guess
from benchtui.driver.identifying import Found, asking, fitting, listening, opened
from benchtui.port.clock import Clock
from benchtui.port.descriptions import own_candidates, resolved
from benchtui.port.hearing import Heard, converse, hear
from benchtui.port.opener import PortSettings
from benchtui.port.ports import KnownPort, stable_name

from .console import say
from .meters_begun import say_begun, say_own
from .meters_found import say_found
from .meters_text import SILENCE, UNCLEAR, looks_like
from .paragraph import say_wrapped

SPEEDS = (9600, 2400, 19200, 115200, 4800, 38400, 57600, 1200, 600)
"""Tried in this order: the commonest first; common practice, no source."""
LISTEN_S = 4.0
ASK_S = 6.0
_PORT_NAMES = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def identify(port: str, args: argparse.Namespace, ports: Sequence[KnownPort], number: int) -> bool:
    """Says what is on this port; whether anything fits.

    Raises:
        PortError: it cannot be opened.
    """
    clock = Clock()
    ways = (*own_candidates(), *candidates())
    stable = stable_name(port, ports)
    name = _PORT_NAMES[number % len(_PORT_NAMES)]
    say(f"{port}:")
    fits, baud, heard = _by_listening(port, args, clock, ways)
    if not fits and not heard.chunks:
        if not args.ask:
            say_wrapped(SILENCE)
            return False
        fits, baud = _by_asking(port, args, clock, ways, heard.has_speed)
    say_own(heard.chunks, LineDefaults(baud))
    if not fits:
        _say_what_came(heard, LineDefaults(baud), stable, name)
        return False
    say_found(fits, stable, name)
    return True


def _by_listening(
    port: str, args: argparse.Namespace, clock: Clock, ways: Sequence[Candidate]
) -> tuple[list[Found], int, Heard]:
    """What fits, at the first speed where anything does; else what came at the speed that looked best."""
    quiet = listening(ways, resolved)
    best: tuple[Heard, int] | None = None
    for baud in (args.baud,) if args.baud else SPEEDS:
        heard = _heard_at(port, baud, args.seconds or LISTEN_S, clock)
        fits = fitting(quiet, heard.chunks, resolved, LineDefaults(baud))
        if fits:
            return fits, baud, heard
        if best is None or (
            guess(best[0].chunks).framing is None and guess(heard.chunks).framing is not None
        ):
            best = heard, baud
        if not heard.chunks or not heard.has_speed:
            break  # who says nothing says nothing at any speed
    assert best is not None
    return [], best[1], best[0]


def _heard_at(port: str, baud: int, seconds: float, clock: Clock) -> Heard:
    say(f"  listening at {baud} baud for {seconds:g} s; nothing is sent")
    heard = hear(PortSettings(port, baud), seconds, clock)
    say(f"  {sum(len(c.data) for c in heard.chunks)} bytes came" + (f"; {heard.lost}" if heard.lost else ""))
    return heard


def _by_asking(
    port: str, args: argparse.Namespace, clock: Clock, ways: Sequence[Candidate], has_speed: bool
) -> tuple[list[Found], int]:
    """What answers, asked one after the other."""
    for candidate in asking(ways, resolved):
        listener = opened(candidate, resolved)
        assert listener is not None, "it has just been opened"
        speeds = candidate.bauds or (listener.line.baud,)
        for baud in (args.baud,) if args.baud else speeds if has_speed else speeds[:1]:
            set_to = f"{baud} baud" + (f", parity {candidate.parity}" if candidate.parity else "")
            say_wrapped(f"asking at {set_to}: {candidate.title}; sends {candidate.sends or 'its question'}")
            listener = opened(candidate, resolved)
            assert listener is not None, "it has just been opened"
            line = replace(listener.line, parity=candidate.parity or listener.line.parity)
            settings = PortSettings(port, baud, line.bits, line.parity, line.stop, line.dtr, line.rts)
            fit = converse(listener, settings, args.seconds or ASK_S, clock)
            if fit.readings:
                return [Found(candidate, replace(fit, line=replace(line, baud=baud)))], baud
            if fit.identity:
                say(f"  it calls itself: {fit.identity}; but it gave no reading")
            for told in fit.told if fit.total else ():
                say_wrapped(f"it answered, but: {told}")
    return [], 0


def _say_what_came(heard: Heard, line: LineDefaults, port: str, name: str) -> None:
    if not heard.chunks:
        say("No answer to anything that was asked.")
        say_wrapped(SILENCE)
        return
    found = guess(heard.chunks)
    say("No driver fits what came.")
    for said in looks_like(found) if found.kind != "unclear" or heard.has_speed else [UNCLEAR]:
        say_wrapped(said)
    say_begun(found, heard.chunks, line, port, name)
