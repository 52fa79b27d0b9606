"""Far ends of cables that this project did not write, for tests: SCPI over a TCP socket or a pseudo-terminal.

`scpipy` (MIT) is a SCPI server with a parser, an error queue and a status system of its own; ours are only
the values that its READ? gives. `pyvisa-sim` (MIT) answers from a YAML description, its error queue is its
own. Both are test-only dependencies.
"""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

IDENTITY = "SALTMARSH TESTS,BENCH VOLTMETER,0,1.0"


@contextmanager
def scpi_meter(
    answers: Sequence[str], *, slow_s: float = 0.0, number: int | None = None, knows_function: bool = True
) -> Iterator[str]:
    """A SCPI meter on a TCP port of this machine, in a process of its own; gives its port for a bench file.

    READ? and MEASure:VOLTage:DC? give the answers one after the other, then the last one again and again.
    CONFigure:VOLTage:DC is known, CONFigure:RESistance is not: it leaves an error in the queue. Each takes
    `slow_s` to come; FUNCtion? is known if `knows_function`; `number` is the TCP port, else a free one.
    """
    number = number or _free_port()
    process = subprocess.Popen(
        [
            sys.executable,
            str(Path(__file__)),
            str(number),
            json.dumps(list(answers)),
            str(slow_s),
            json.dumps(knows_function),
        ]
    )
    try:
        _wait_until(lambda: _answers(number) or process.poll() is not None)
        assert process.poll() is None, "the SCPI peer did not start"
        yield f"socket://127.0.0.1:{number}"
    finally:
        process.terminate()
        process.wait(10)


@contextmanager
def scpi_meter_on_a_pty(volts: tuple[float, float]) -> Iterator[str]:
    """A SCPI meter on a pseudo-terminal whose READ? gives values between these two; gives its path."""
    import tty

    far, near = os.openpty()
    tty.setraw(near)
    device = _yaml_device(volts)
    ended = threading.Event()

    def serve() -> None:
        while not ended.is_set():
            try:
                data = os.read(far, 256)
            except OSError:
                return
            device.write(data)
            answer = bytearray()
            while (byte := device.read()[0]) != b"":
                answer += byte
            if answer:
                os.write(far, bytes(answer))

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield os.ttyname(near)
    finally:
        ended.set()
        os.write(near, b"\n")  # wakes the reader, whatever it waits for
        thread.join(10)
        os.close(far)
        os.close(near)


def _yaml_device(volts: tuple[float, float]):  # type: ignore[no-untyped-def]
    """pyvisa-sim's engine with a description of ours."""
    from pyvisa_sim.parser import get_devices

    low, high = volts
    path = Path(__file__).parent / "drivers" / "voltmeter.yaml"
    text = path.read_text().replace("LOW", f"{low:.3f}").replace("HIGH", f"{high:.3f}")
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        described = Path(folder) / "voltmeter.yaml"
        described.write_text(text)
        return get_devices(str(described), False)["ASRL1::INSTR"]


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        number: int = probe.getsockname()[1]
        return number


def _answers(number: int) -> bool:
    try:
        with socket.create_connection(("127.0.0.1", number), 0.2):
            return True
    except OSError:
        return False


def _wait_until(there: Callable[[], bool], seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not there():
        assert time.monotonic() < end, f"it did not come about within {seconds} s"
        time.sleep(0.02)


def _serve(number: int, answers: list[str], slow_s: float, knows_function: bool) -> None:
    """The process of `scpi_meter`."""
    import asyncio

    from scpipy.server.routing import Router
    from scpipy.server.server import Server

    router = Router()
    said = 0

    async def read(context: object) -> str:
        nonlocal said
        if slow_s:
            await asyncio.sleep(slow_s)
        answer = answers[min(said, len(answers) - 1)]
        said += 1
        return answer

    router.add_route("*IDN?", lambda context: IDENTITY)
    router.add_route("CONFigure:VOLTage:DC", lambda context: None)
    if knows_function:
        router.add_route("SENSe:FUNCtion?", lambda context: '"VOLT:DC"')
        router.add_route("FUNCtion?", lambda context: '"VOLT:DC"')
    router.add_route("READ?", read)
    router.add_route("MEASure:VOLTage:DC?", read)
    server = Server("127.0.0.1", number, shared_context=True)
    server.include_router(router)
    server.run()


if __name__ == "__main__":
    _serve(int(sys.argv[1]), json.loads(sys.argv[2]), float(sys.argv[3]), json.loads(sys.argv[4]))
