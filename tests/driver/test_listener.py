"""One meter, heard: whatever the driver does, the session gets what the contract says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from benchtui.driver.contract import LineDefaults, Out
from benchtui.driver.description import MeterDescription
from benchtui.driver.listener import Listener
from benchtui.model.notes import Trouble
from benchtui.model.readings import Flag, Readings
from benchtui.model.units import Unit


class Odd:
    """A driver that answers every feed with what the test gives it."""

    channels = ("", "b")
    line = LineDefaults()
    wake_ns = None

    def __init__(self, answer: Callable[[], Out]) -> None:
        self.answer = answer
        self.calls = 0

    def start(self, at_ns: int) -> Out:
        return Out()

    def feed(self, data: bytes, at_ns: int) -> Out:
        self.calls += 1
        return self.answer()

    def tick(self, at_ns: int) -> Out:
        return Out()


def _listener(answer: Callable[[], Out]) -> Listener:
    return Listener(Odd(answer), MeterDescription("A", "odd", channels=(4, 7)))


def _raises() -> Out:
    raise ZeroDivisionError("by \x1b[2J nothing")


def test_a_driver_that_raises_ends_its_meter_with_one_trouble() -> None:
    """The link goes on, the driver is not called again, and what is said is plain."""
    listener = _listener(_raises)
    (told,) = listener.feed(b"x", 5).troubles
    assert (told.t_ns, told.meter, told.kind, "\x1b" in told.text) == (5, "A", "driver", False)
    assert listener.ended
    assert listener.feed(b"x", 6).troubles == ()
    assert listener.driver.calls == 1  # type: ignore[attr-defined]


GOOD = Readings.of([1, 1], [0, 1], Unit.V, [1.5, 2.5])


def _with(**column: object) -> Readings:
    return replace(GOOD, **{k: np.asarray(v) for k, v in column.items()})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "out",
    [
        Out(_with(channel=[0, 2])),
        Out(_with(channel=[-1, 0])),
        Out(_with(unit=[1, 99])),
        Out(_with(value=[1.0])),
        Out(troubles=(Trouble(0, "", "tired"),)),
        None,
        Out(send="text"),  # type: ignore[arg-type]
    ],
)
def test_an_answer_against_the_contract_is_a_failure_of_the_driver(out: Out) -> None:
    """A channel it has not named, a unit that does not exist, uneven columns, an unknown trouble, nothing."""
    listener = _listener(lambda: out)
    assert [t.kind for t in listener.feed(b"x", 5).troubles] == ["driver"]
    assert listener.ended


def test_readings_get_the_sessions_channels_and_the_instant_of_the_call() -> None:
    """The driver's own time is not believed: nothing may fall behind a watermark."""
    heard = _listener(lambda: Out(GOOD)).feed(b"x", 50).readings
    assert heard.channel.tolist() == [4, 7]
    assert heard.t_ns.tolist() == [50, 50]


def test_a_value_that_is_no_number_is_flagged() -> None:
    """NaN and infinity are no voltages, whatever the driver says; a flagged row holds NaN."""
    heard = _listener(lambda: Out(_with(value=[np.inf, 3.0], flags=[0, int(Flag.OVERLOAD)]))).feed(b"x", 5)
    assert heard.readings.flags.tolist() == [Flag.INVALID, Flag.OVERLOAD]
    assert np.isnan(heard.readings.value).all()


def test_a_loss_is_told_once_and_the_return_too() -> None:
    """Ten failed attempts to open are one loss."""
    listener = _listener(Out)
    assert listener.start(0).troubles == ()
    assert [t.kind for _ in range(10) for t in listener.lost(5, "unplugged").troubles] == ["lost"]
    assert [t.kind for t in listener.start(9).troubles] == ["back"]
    assert listener.start(9).troubles == ()
