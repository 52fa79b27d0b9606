"""Boards that a dashboard must survive: odd values, odd names, none and many points."""

from __future__ import annotations

import math
from dataclasses import replace

from benchtui.model.units import Unit
from benchtui.watch.board import Board, Hazard, Row

from .scenes import S, board, fault, row

HOSTILE = (
    "[/x]",
    "[bold red]B+[/]",
    "\x1b[2J\x1b[31mred\x07",
    "\u202eright to left\u202c",
    "שלום",
    "真空管",
    "e\u0301\u0302\u0303\u0304\u0305\u0306\u0307",
    "👩‍🔧🇳🇱",
    "line\nbreak\ttab\r",
    "x" * 10_000,
    "",
)


def plain_row(
    point: str, unit: Unit, value: float | None, sign: str = "=", word: str = "in", **more: object
) -> Row:
    """A row without a chart, unless more says otherwise."""
    filled: dict[str, object] = {
        "level": value, "step": 0.1, "noise": 0.1, "low": None, "nominal": None, "high": None, "limit": None,
        "age_s": 0.3, "period_s": 0.3, "meter": "A",
    }  # fmt: skip
    filled.update(more)
    return Row(point, unit, sign, word, value, **filled)  # type: ignore[arg-type]


def negatives() -> Board:
    """Bias supplies, AC, currents: everything that is no positive DC voltage."""
    bias = {"low": -14.0, "nominal": -12.0, "high": -10.0, "limit": 25.0}
    rows = (
        plain_row("bias", Unit.V, -12.3, **bias, settled=True, drift_per_h=-0.5),
        plain_row("grid V4", Unit.V, -9.4, "!!", "out, high", **bias, fault=1, acknowledged=False),
        plain_row("balance", Unit.V, -0.02, low=-0.5, nominal=0.0, high=0.5, step=0.001),
        plain_row("heater", Unit.VAC, 6.31, low=5.67, nominal=6.3, high=6.93, step=0.01),
        plain_row("anode", Unit.A, 0.0384, low=0.032, nominal=0.038, high=0.044, limit=0.048, step=1e-4),
        plain_row("winding", Unit.VAC, 348.0, low=340.0, nominal=350.0, high=360.0, step=1.0),
        plain_row("hum", Unit.VAC, 0.0043, high=0.008, step=1e-4),
        plain_row("EHT", Unit.V, 1432.0, low=1300.0, nominal=1400.0, high=1500.0, limit=1600.0, step=1.0),
    )
    hazard = Hazard(True, "on", "EHT", 1432.0, Unit.V, "A", 0.2)
    return board(90, rows, hazard=hazard, large=(), set_name="Harbour Four", next_point=None)


def no_values() -> Board:
    """Meters that say nothing: overload, NaN, no lead, never read."""
    rows = (
        row("B+1", None, "x", "overload", age_s=0.2),
        row("B+2", math.nan, "x", "no reading", age_s=9.0),
        row("screen", math.inf, "?", "undecided"),
        row("V6 cathode", None, "", "not measured", meter=None, age_s=None, period_s=None),
        row("regulator", None, "x", "no reading", age_s=400.0),
        row("pilot", None, "x", "not looked", age_s=None),
        row("mains", None, "x", "no reading", age_s=8000.0),
        row("heater", None, "", "", meter=None, age_s=None),
    )
    hazard = Hazard(True, "on", "B+1", 287.0, Unit.V, "A", 9.0, ("B+1",))
    return board(90, rows, hazard=hazard, mains=None, recording=False)


def one_point() -> Board:
    """No chart: a single meter, a single name."""
    return Board(
        at_ns=12 * S,
        rows=(plain_row("meter A", Unit.V, 46.21, "", "", step=0.01),),
        hazard=Hazard(True, "on", "meter A", 46.21, Unit.V, "A", 0.1),
    )


def forty() -> Board:
    """Forty points, one of the last of them wrong."""
    rows = [
        plain_row(f"V{i // 4} pin {i % 9 + 1}", Unit.V, 100.0 + i, low=90.0, nominal=100.0 + i, high=160.0)
        for i in range(40)
    ]
    rows[37] = replace(rows[37], sign="!!", word="out", fault=9, acknowledged=True)
    hazard = Hazard(True, "on", "V9 pin 4", 139.0, Unit.V, "A", 0.1)
    return board(90, tuple(rows), hazard=hazard, large=(), next_point=None)


def cold() -> Board:
    """Before the first power-on."""
    rows = (
        row("B+1", 0.0, "", "cold"),
        row("B+2", 0.0, "", "cold"),
        row("screen", 0.0, "", "cold"),
        row("V6 cathode", 0.0, "", "cold"),
        row("regulator", 0.0, "", "cold"),
        row("pilot", None, "x", "not looked", age_s=None),
        row("mains", 0.0, "", "off"),
        row("heater", 0.0, "", "off"),
    )
    return board(-30, rows, run=0, on_ns=None, mains=0.0, hazard=Hazard())


def stale() -> Board:
    """The meter on B+1 fell silent with the power on."""
    base = fault()
    rows = (
        replace(base.rows[0], value=None, level=None, sign="x", word="no reading", age_s=9.0),
        *base.rows[1:],
    )
    hazard = Hazard(True, "on", "B+1", 287.0, Unit.V, "A", 9.0, ("B+1",))
    return replace(base, rows=rows, hazard=hazard, acknowledged=frozenset((1, 2, 4)))


def nothing() -> Board:
    """The very first board."""
    return Board()


def hostile(text: str) -> Board:
    """A name from a file, a note from a person and a meter's name, all the same text."""
    from benchtui.model.notes import Mark

    base = fault()
    rows = (*base.rows[:3], replace(base.rows[3], point=text, meter=text, where=text), *base.rows[4:])
    return replace(base, rows=rows, marks=(*base.marks, Mark(base.at_ns, "note", text, text)), large=())


ALL = {
    "negatives": negatives,
    "no_values": no_values,
    "one_point": one_point,
    "forty": forty,
    "cold": cold,
    "stale": stale,
    "nothing": nothing,
}
