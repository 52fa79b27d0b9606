"""`benchtui meters`: what is plugged in, what it could be, and what it says."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from benchtui.model.errors import BenchError

from .console import example, say
from .paragraph import say_wrapped

OPENING = (
    "Opening a port raises its control lines: it can reset, start or power what is plugged in there. "
    "A meter that is linked to a computer may connect what it measures to the computer, and that to earth: "
    "its manual says whether it is isolated, and up to how many volts. Try it with its leads out of the set."
)
PARITIES = ("none", "even", "odd", "mark", "space")


def add_parser(commands: Any) -> None:
    """Adds the command `meters`."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "meters",
        help="what is plugged in, and what it says",
        description="Lists the serial ports with a name for the bench file. Opens none, unless told to.",
        **example(
            "benchtui meters",
            "benchtui meters --identify /dev/ttyUSB0 --ask",
            "benchtui meters listen /dev/ttyUSB0 --baud 2400 --for 30",
        ),
    )
    parser.add_argument(
        "--identify", metavar="PORT", nargs="*",
        help="listen on these ports and say which driver fits; without a name each is asked about first",
    )  # fmt: skip
    parser.add_argument(
        "--ask",
        action="store_true",
        help="also send questions that set nothing (SCPI, Modbus), each named before, where nothing comes",
    )
    parser.add_argument(
        "--baud", type=int, metavar="N", help="only at this speed; otherwise at the usual ones"
    )
    parser.add_argument(
        "--for", metavar="SECONDS", dest="seconds", type=float, help="listen so long each time"
    )
    parser.set_defaults(run=run)
    _add_listen(parser.add_subparsers(title="commands", metavar="listen", dest="meters_command"))


def _add_listen(commands: Any) -> None:
    parser: argparse.ArgumentParser = commands.add_parser(
        "listen",
        help="show what comes on a port",
        description="Shows every byte that comes, as hex and text with its time; then what it looks like. "
        "Sends nothing. Press ctrl+c when you have seen enough.",
        **example("benchtui meters listen COM4 --baud 2400 --dtr on --rts off"),
    )
    parser.add_argument(
        "port", metavar="PORT", help="as `benchtui meters` lists it, COM4, socket://host:port"
    )
    parser.add_argument("--baud", type=int, default=9600, metavar="N", help="speed (9600)")
    parser.add_argument("--bits", type=int, default=8, choices=(5, 6, 7, 8), help="data bits (8)")
    parser.add_argument("--parity", default="none", choices=PARITIES, help="parity (none)")
    parser.add_argument("--stop", type=float, default=1, choices=(1, 1.5, 2), help="stop bits (1)")
    parser.add_argument(
        "--dtr", choices=("on", "off"), help="set this line before opening; many adapters need it"
    )
    parser.add_argument("--rts", choices=("on", "off"), help="likewise")
    parser.add_argument("--for", metavar="SECONDS", dest="seconds", type=float, help="end after so long")
    parser.add_argument("--wire", metavar="OUT", type=Path, help="file to keep every byte in, with its time")
    parser.set_defaults(run=run_listen)


def run(args: argparse.Namespace) -> int:
    """Lists the ports, or identifies what is on some; gives the exit status.

    Raises:
        BenchError: a port that was named cannot be opened.
    """
    from benchtui.port.ports import known_ports

    check_seconds(args.seconds)
    ports = known_ports()
    if args.identify is None:
        _list(ports)
        return 0
    named = args.identify or _confirmed(ports)
    from .meters_identify import identify

    if not named:
        say("No port was named, none is opened.")
        return 2
    if args.identify:
        say_wrapped(OPENING)
    found = [identify(port, args, ports, number) for number, port in enumerate(named)]
    return 0 if all(found) else 2


def run_listen(args: argparse.Namespace) -> int:
    """Shows what comes; gives the exit status.

    Raises:
        BenchError: the port cannot be opened, or the wire log cannot be made.
    """
    check_seconds(args.seconds)
    from .meters_listen import listen

    say_wrapped(OPENING)
    return listen(args)


def check_seconds(seconds: float | None) -> None:
    """Raises:
    BenchError: these are no seconds to listen for.
    """
    if seconds is not None and not 0 < seconds <= 86_400:
        raise BenchError("--for: write seconds above 0, like 10")


def _list(ports: Any) -> None:
    if not ports:
        say("The system knows of no serial port. Is the cable in, the adapter recognised?")
    for port in ports:
        say(
            f"{port.device}\n    {port.about}\n"
            f'    in the bench file: port = "{port.stable}"  ({port.outlives})'
        )
    say(
        "No port was opened. To find out what a meter speaks: benchtui meters --identify PORT\n"
        "To see every byte: benchtui meters listen PORT\n"
        "A meter on the network needs no listing: PORT may be socket://host:port or rfc2217://host:port"
    )


def _confirmed(ports: Any) -> list[str]:
    """The ports that a person says may be opened, one question each; none where nobody can answer."""
    if not sys.stdin.isatty():
        raise BenchError(
            "which port? Ports are not opened unasked: name them, like benchtui meters --identify "
            + (ports[0].device if ports else "/dev/ttyUSB0")
        )
    say_wrapped(OPENING)
    chosen = []
    for port in ports:
        say(f"{port.device}: {port.about}")
        if input("    open it? [y/N] ").strip().lower() in ("y", "yes"):
            chosen.append(port.device)
    return chosen
