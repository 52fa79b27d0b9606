"""What a bench entry says of the meters on a Modbus line, read strictly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from benchtui.driver.contract import DriverOptions
from benchtui.driver.words import unit_word
from benchtui.model.errors import DriverError
from benchtui.model.notes import plain
from benchtui.model.units import Unit

from .modbus_frames import MOST_REGISTERS, Request
from .modbus_registers import ORDERS, TYPES, Register
from .tables import Table

_MOST = 200
"""Registers of one line."""


@dataclass(frozen=True, slots=True)
class Question:
    """A request, and what its answer holds: (channel, register) each."""

    request: Request
    holds: tuple[tuple[int, Register], ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What is asked on this line, and when."""

    registers: tuple[Register, ...]
    """One a channel."""
    questions: tuple[Question, ...]
    every_ns: int
    within_ns: int
    pause_ns: int
    """Of silence between an answer and the next question."""
    echo: bool
    """Whether a station may be asked to return a number, to tell its late answers from new ones."""


def read_plan(options: DriverOptions) -> Plan:
    """The plan that these options make.

    Raises:
        DriverError: with every mistake, a line each.
    """
    problems: list[str] = []
    given = Table(options.options, "", problems, "modbus")
    station = given.whole("station", 1, 1, 247)
    tables = given.each("register")
    registers = [r for t in tables if (r := _register(t, station, options.measures)) is not None]
    if not tables:
        given.wrong("register", "is needed: write [[meter.register]] above each quantity that is read")
    if len(tables) > _MOST:
        given.wrong("register", f"has {len(tables)} entries; at most {_MOST}")
    _check_names(given, registers)
    joined = given.flag("join", True)
    plan = Plan(
        tuple(registers),
        questions(registers, joined=joined),
        every_ns=int(given.seconds("every", 1.0, 0.0) * 1e9),
        within_ns=int(given.seconds("answer_within", 1.0, 0.02, 60.0) * 1e9),
        pause_ns=int(given.seconds("pause", 0.02, 0.002, 1.0) * 1e9),
        echo=given.flag("echo", True),
    )
    given.finish()
    if problems:
        raise DriverError("\n".join(dict.fromkeys(problems)))
    return plan


def questions(registers: Sequence[Register], *, joined: bool) -> tuple[Question, ...]:
    """As few requests as read them all: neighbours of one station come in one answer, of one instant."""
    found: list[Question] = []
    order = sorted(range(len(registers)), key=lambda n: _place(registers[n]))
    for n in order:
        register = registers[n]
        request = Request(register.station, register.function, register.address, register.count)
        last = found[-1].request if found and joined else None
        if last is not None and (last.station, last.function) == (request.station, request.function):
            end = max(last.address + last.count, request.address + request.count)
            if request.address <= last.address + last.count and end - last.address <= MOST_REGISTERS:
                wider = Request(last.station, last.function, last.address, end - last.address)
                found[-1] = Question(wider, (*found[-1].holds, (n, register)))
                continue
        found.append(Question(request, ((n, register),)))
    return tuple(found)


def _place(register: Register) -> tuple[int, int, int]:
    return register.station, register.function, register.address


def _check_names(given: Table, registers: Sequence[Register]) -> None:
    names = [r.name for r in registers]
    if len(names) > 1 and "" in names:
        given.wrong("register", "each needs a name of its own: that of the point that it reads, like “B+1”")
    for name in sorted({n for n in names if n and names.count(n) > 1}):
        given.wrong("register", f"two are called “{name}”")


def _register(table: Table, station: int, measures: Unit) -> Register | None:
    function, address = _address(table)
    kind = table.text("type")
    if kind not in TYPES:
        table.wrong("type", f"is needed, one of: {', '.join(TYPES)}")
        kind = "int16"
    orders = ORDERS[4 if kind.endswith("32") else 2]
    unit, power = _unit(table, measures)
    overload = table.raw("overload")
    values = overload if isinstance(overload, list) else [] if overload is None else [overload]
    if not all(type(v) is int and 0 <= v < 1 << 32 for v in values):
        table.wrong("overload", "write what stands there when there is no value, like [0x7FFF]")
        values = []
    register = Register(
        name=plain(table.text("name"), 80),
        station=table.whole("station", station, 1, 247),
        function=function,
        address=address,
        type=kind,
        order=table.choice("order", orders, orders[0]),
        scale=_scale(table).scaleb(power),
        unit=unit,
        resolution=table.count("resolution"),
        overload=frozenset(values),
    )
    if register.address + register.count > 1 << 16:
        table.wrong("address", "is the last there is, and this type takes two")
    table.finish()
    return register


def _address(table: Table) -> tuple[int, int]:
    """Function and address: both as the protocol has them, or as one number of a list of registers."""
    if table.given("number"):
        for key in ("address", "function"):
            if table.given(key):
                table.wrong(key, "is told by number already; leave one of them out")
        number = table.whole("number", 30001, 30001, 465536)
        kind, rest = divmod(number, 10_000) if number < 100_000 else divmod(number, 100_000)
        if kind in (3, 4) and 1 <= rest <= 65536:
            return {3: 4, 4: 3}[kind], rest - 1
        table.wrong("number", "must be like 30001 (an input register) or 40001 (a holding register)")
        return 4, 0
    for key in ("address", "function"):
        if not table.given(key):
            table.wrong(
                key, "is needed: from 0" if key == "address" else "is needed: 3 holding, 4 input registers"
            )
    return table.whole("function", 4, 3, 4), table.whole("address", 0, 0, 65535)


def _unit(table: Table, measures: Unit) -> tuple[Unit, int]:
    said = table.text("unit")
    if not said:
        return measures, 0
    found = unit_word(said, expected=measures)
    if found is None:
        table.wrong("unit", f"“{plain(said, 40)}” is no unit; write V, Vac, mV, kohm, A, Hz …")
        return measures, 0
    return found


def _scale(table: Table) -> Decimal:
    """As it is written: 0.1 is a tenth, exactly."""
    said = table.raw("scale")
    if said is None:
        return Decimal(1)
    if isinstance(said, (int, float)) and not isinstance(said, bool) and 1e-12 <= abs(said) <= 1e12:
        return Decimal(repr(said))
    table.wrong("scale", "write a number, like 0.1: what one count is in the unit")
    return Decimal(1)
