"""Modbus stations that this project did not write, each in a process of its own, on this machine alone.

`pymodbus` (BSD) is a Modbus server in Python: over TCP with RTU frames, as serial-to-network adapters carry
them, or on a pseudo-terminal. `libmodbus` (LGPL), where Debian's package `libmodbus5` is installed, is one in
C, reached through ctypes. The registers are ours: station 1 stands still, station 2 counts up when read.
"""

from __future__ import annotations

import contextlib
import ctypes
import ctypes.util
import os
import select
import socket
import struct
import subprocess
import sys
import threading
import time
import tty
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

HOLDING = (
    2853,
    65511,
    *struct.unpack(">HH", struct.pack(">i", -70000)),
    *struct.unpack(">HH", struct.pack(">f", 285.3)),
)
"""Station 1, holding registers from 0: 285.3 V in tenths, -25, a 32-bit number, a float."""
INPUT = (6300, 0x7FFF)
"""Station 1, input registers from 100: 6.3 V in thousandths, over range."""


def libmodbus() -> str | None:
    """The C library, where it is installed."""
    return ctypes.util.find_library("modbus")


@contextmanager
def tcp_stations() -> Iterator[str]:
    """pymodbus, RTU frames over TCP; gives its port for a bench file."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        number = probe.getsockname()[1]
    with _process("pymodbus-tcp", str(number)):
        yield f"socket://127.0.0.1:{number}"


@contextmanager
def serial_stations(kind: str) -> Iterator[str]:
    """`pymodbus-serial` or `libmodbus` at the far end of a cable; gives the near end."""
    with _cable() as (near, far), _process(kind, far):
        yield near


@contextmanager
def _process(*arguments: str) -> Iterator[None]:
    process = subprocess.Popen([sys.executable, str(Path(__file__)), *arguments], stdout=subprocess.PIPE)
    try:
        assert process.stdout is not None
        assert process.stdout.readline().strip() == b"ready", "the Modbus peer did not start"
        yield
    finally:
        process.terminate()
        process.wait(10)
        assert process.stdout is not None
        process.stdout.close()


@contextmanager
def _cable() -> Iterator[tuple[str, str]]:
    """Two pseudo-terminals joined back to back."""
    (one, near), (other, far) = os.openpty(), os.openpty()
    ended, wake = os.pipe()
    for end in (near, far):
        tty.setraw(end)

    def carry() -> None:
        while True:
            ready, _, _ = select.select([one, other, ended], [], [])
            if ended in ready:
                return
            for end in ready:
                os.write(other if end == one else one, os.read(end, 256))

    thread = threading.Thread(target=carry, daemon=True)
    thread.start()
    try:
        yield os.ttyname(near), os.ttyname(far)
    finally:
        os.write(wake, b"x")
        thread.join(10)
        for end in (one, near, other, far, ended, wake):
            os.close(end)


def _serve_pymodbus(kind: str, where: str) -> None:
    import asyncio

    from pymodbus import FramerType
    from pymodbus.server import ModbusSerialServer, ModbusTcpServer
    from pymodbus.simulator import DataType, SimData, SimDevice

    async def count_up(  # type: ignore[no-untyped-def]
        function, start, address, count, registers, values
    ) -> None:
        registers[0] += 1

    def block(address: int, values: tuple[int, ...]) -> list[SimData]:
        return [SimData(address, values=list(values), datatype=DataType.REGISTERS)]

    def silent(sending: bool, data: bytes) -> bytes:
        """It answers for stations that it does not have, with an exception: that answer is dropped."""
        return b"" if sending and data[:1] == b"\x09" else data

    bits = [SimData(0, values=0, datatype=DataType.BITS)]
    stations = [
        SimDevice(1, simdata=(bits, bits, block(0, HOLDING), block(100, INPUT))),
        SimDevice(2, simdata=(bits, bits, block(0, (0,)), block(0, (0,))), action=count_up),
    ]

    async def serve() -> None:
        if kind == "pymodbus-tcp":
            address = ("127.0.0.1", int(where))
            server = ModbusTcpServer(stations, framer=FramerType.RTU, address=address, trace_packet=silent)
        else:
            server = ModbusSerialServer(stations, port=where, baudrate=19200, trace_packet=silent)
        for _ in range(50):  # a pseudo-terminal's number may have been another's, who still tries to open it
            with contextlib.suppress(RuntimeError):
                await server.serve_forever(background=True)
                print("ready", flush=True)
                await asyncio.Event().wait()
            await asyncio.sleep(0.1)

    asyncio.run(serve())


class _Mapping(ctypes.Structure):
    """modbus_mapping_t of modbus.h, version 3."""

    _fields_ = [
        *((name, ctypes.c_int) for name in (
            "nb_bits", "start_bits", "nb_input_bits", "start_input_bits",
            "nb_input_registers", "start_input_registers", "nb_registers", "start_registers",
        )),
        ("tab_bits", ctypes.POINTER(ctypes.c_uint8)),
        ("tab_input_bits", ctypes.POINTER(ctypes.c_uint8)),
        ("tab_input_registers", ctypes.POINTER(ctypes.c_uint16)),
        ("tab_registers", ctypes.POINTER(ctypes.c_uint16)),
    ]  # fmt: skip


def _serve_libmodbus(where: str) -> None:
    """Station 1 alone: the library is one station a context."""
    library = ctypes.CDLL(libmodbus())
    library.modbus_new_rtu.restype = ctypes.c_void_p
    library.modbus_mapping_new_start_address.restype = ctypes.POINTER(_Mapping)
    context = ctypes.c_void_p(library.modbus_new_rtu(where.encode(), 19200, ctypes.c_char(b"N"), 8, 1))
    registers = library.modbus_mapping_new_start_address(0, 0, 0, 0, 0, len(HOLDING), 100, len(INPUT))
    for n, value in enumerate(HOLDING):
        registers.contents.tab_registers[n] = value
    for n, value in enumerate(INPUT):
        registers.contents.tab_input_registers[n] = value
    assert library.modbus_set_slave(context, 1) == 0
    assert library.modbus_connect(context) == 0
    print("ready", flush=True)
    question = (ctypes.c_uint8 * 260)()
    while True:
        length = library.modbus_receive(context, question)
        if length > 0:
            library.modbus_reply(context, question, length, registers)
        else:
            time.sleep(0.01)


if __name__ == "__main__":
    if sys.argv[1] == "libmodbus":
        _serve_libmodbus(sys.argv[2])
    else:
        _serve_pymodbus(*sys.argv[1:])
