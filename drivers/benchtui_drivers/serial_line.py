"""The table `[line]` of a description: how the serial line is set, and which of its pins power an adapter."""

from __future__ import annotations

from benchtui.driver.contract import LineDefaults

from .tables import Table

_PARITIES = ("none", "even", "odd", "mark", "space")


def read_serial_line(table: Table) -> LineDefaults:
    """What it says; its mistakes are noted in the table. Other keys are left to be read."""
    stop = table.raw("stop")
    if stop not in (None, 1, 1.5, 2) or isinstance(stop, bool):
        table.wrong("stop", "must be 1, 1.5 or 2")
        stop = None
    pins = table.inner("power_pins")
    dtr = rts = None
    if pins is not None:
        dtr = pins.flag("dtr") if pins.given("dtr") else None
        rts = pins.flag("rts") if pins.given("rts") else None
        pins.finish()
    return LineDefaults(
        baud=table.whole("baud", 9600, 50, 4_000_000),
        bits=table.whole("bits", 8, 5, 8),
        parity=table.choice("parity", _PARITIES, "none"),
        stop=1 if stop is None else stop,
        dtr=dtr,
        rts=rts,
    )
