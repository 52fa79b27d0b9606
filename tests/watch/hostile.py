"""Readings, charts and notes that nobody would send on purpose."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from benchtui.chart.chart import Chart, Glow, MeterLoad, Point, Span
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.notes import MARK_KINDS, TROUBLE_KINDS, Lead, Mark, Note, Trouble
from benchtui.model.readings import NO_VALUE, Accuracy, Channel, Readings
from benchtui.model.units import Unit

from .cutting import Session

Levels = st.SearchStrategy[float]

NAMES = [
    "B+1",
    "mains",
    "MAINS",
    "[/x]",
    "\x1b[31mred",
    "a\nb",
    "\u202egnirts",
    "'; drop",
    "",
    " ",
    "é" * 500,
    "\ud800",
]
SIZES = [0.0, -0.0, 5e-324, 1e-300, 1e-9, 0.03, 1.0, 9.999, 285.0, 1e6, 9.9e37, 1e150, 1.7e308]
VALUES = st.sampled_from([*SIZES, *(-s for s in SIZES)])
TAME = st.sampled_from([285.0, 285.0, 240.0, 230.0, 200.0, 40.0, 12.0, 0.0, -22.0, 360.0])
STEPS = st.sampled_from([0.0, 5e-324, 1e-9, 0.1, 1.0, 1e6, 1e300])
SPANS_S = [0.0, 1e-9, 0.001, 0.5, 1.0, 13.0, 3600.0, 90000.0]
QUANTITIES = [Unit.V, Unit.V, Unit.VAC, Unit.A, Unit.OHM, Unit.STATE, Unit.UNKNOWN, Unit.DB]


def maybe(strategy: st.SearchStrategy[float]) -> st.SearchStrategy[float | None]:
    return st.none() | strategy


@st.composite
def points(draw: st.DrawFn, name: str, above: list[str], levels: Levels) -> Point:
    """A point with any levels at all: of no nominal, of one bound, negative, zero, a limit alone."""
    unit = draw(st.sampled_from(QUANTITIES))
    edges = sorted(draw(st.tuples(levels, levels)))
    bounds = draw(st.sampled_from(["none", "both", "low", "high", "equal"]))
    low = None if bounds in ("none", "high") else edges[0]
    high = None if bounds in ("none", "low") else edges[0 if bounds == "equal" else 1]
    nominal = draw(maybe(levels)) if unit is not Unit.STATE else draw(st.sampled_from([None, 0.0, 1.0]))
    spans = sorted(draw(st.tuples(*[st.sampled_from([0.0, 50.0, 65.0, 90.0, 1e300])] * 4)))
    current = draw(st.none() | st.just(Span(0.005, 0.03)))
    glow = Glow(Span(spans[2], spans[3]), Span(spans[0], spans[1]), current)
    return Point(
        name, unit, nominal=nominal, low=low, high=high,
        limit=draw(maybe(st.sampled_from(SIZES))), surge=draw(maybe(st.sampled_from(SIZES))),
        surge_s=draw(st.sampled_from([0.0, 30.0, 1e6])), range=draw(maybe(st.sampled_from(SIZES))),
        follows_mains=draw(st.booleans()), moves=draw(st.sampled_from(["", "programme"])),
        fed_from=draw(st.none() | st.sampled_from(above)) if above else None,
        through=draw(maybe(st.sampled_from(SIZES))), current=draw(maybe(st.sampled_from(SIZES))),
        source_resistance=draw(maybe(st.sampled_from(SIZES))),
        bleed_s=draw(maybe(st.sampled_from([0.0, 20.0, 1e6]))),
        glow=draw(st.none() | st.just(glow)), seen=draw(st.booleans()),
    )  # fmt: skip


@st.composite
def charts(draw: st.DrawFn, levels: Levels) -> Chart:
    """A chart of a few points, each fed from one before it or from nothing."""
    names = draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=5, unique=True))
    made = [draw(points(name, names[:n], levels)) for n, name in enumerate(names)]
    meter = draw(st.sampled_from([None, MeterLoad(ohms=1e7), MeterLoad(ohms_per_volt=2e4), MeterLoad()]))
    return Chart(
        draw(st.sampled_from(NAMES)), mains=draw(maybe(st.sampled_from(SIZES))), meter=meter,
        chassis=draw(st.sampled_from(["", "live", "isolated"])), points=tuple(made),
    )  # fmt: skip


@st.composite
def stretches(draw: st.DrawFn, levels: Levels) -> list[tuple[int, float, float, int, int]]:
    """(ns after the one before, value, resolution, unit, flags) of some readings in a row."""
    many = draw(st.sampled_from([1, 2, 3, 9, 40, 90]))
    tame = levels is TAME
    gap = round(draw(st.sampled_from([0.5, 0.5, 0.5, 0.5, 0.1, *SPANS_S] if tame else SPANS_S)) * 1e9)
    base, step = draw(levels), 0.1 if tame else draw(STEPS)
    other = draw(levels)
    units = [Unit.V] * (12 if tame else 3)
    unit = int(draw(st.sampled_from([*units, Unit.VAC, Unit.STATE, Unit.UNKNOWN])))
    flags = draw(st.sampled_from([0] * (12 if tame else 4) + [1, 2, 4, 8, 15]))
    how = draw(st.sampled_from(["same", "turns", "grows", "noisy", "noisy"]))
    rows = []
    small = 0.0005 if tame else 0.01
    for k in range(many):
        value = base
        if how == "turns":
            value = other if k % 2 else base
        elif how == "grows":
            value = base * (1 + 0.01 * k)
        elif how == "noisy":
            value = base + small * base * ((k * 7919) % 13 - 6)
        value = value if np.isfinite(value) else base
        rows.append((gap, float("nan") if flags & int(NO_VALUE) else value, step, unit, flags))
    return rows


@st.composite
def notes(draw: st.DrawFn, channels: int, upto_ns: int, places: list[str]) -> list[Note]:
    """Any notes in any order: power on twice, leads to and fro, troubles of meters that are not there."""
    when = st.integers(0, upto_ns)
    text = st.sampled_from(NAMES)
    marks = draw(st.lists(st.builds(Mark, when, st.sampled_from(MARK_KINDS), text, text), max_size=8))
    powers = draw(st.lists(st.builds(Mark, when, st.sampled_from(["on", "off"])), max_size=8))
    where = st.none() | st.sampled_from(places)
    leads = draw(st.lists(st.builds(Lead, when, st.integers(-1, channels + 1), where), max_size=12))
    kinds = st.sampled_from(TROUBLE_KINDS)
    wire = draw(st.lists(st.builds(Trouble, when, text, kinds, text, st.integers(0, 10**9)), max_size=6))
    return sorted([*marks, *powers, *leads, *wire], key=lambda n: n.t_ns)


@st.composite
def hostile_sessions(draw: st.DrawFn) -> Session:
    """Up to four channels of any readings on any points of any chart."""
    levels = draw(st.sampled_from([TAME, TAME, VALUES]))
    chart = draw(charts(levels))
    places = [*(p.name for p in chart.points), *NAMES[:4], "nowhere"]
    many = draw(st.integers(1, 4))
    channels, parts = [], []
    upto_ns = 0
    for number in range(many):
        accuracy = draw(
            st.sampled_from([None, Accuracy(0.005, 2), Accuracy(0, 0, 0.02), Accuracy(1e300, 1e300)])
        )
        ohms = draw(maybe(st.sampled_from([0.0, 1e7, 1e-300])))
        channels.append(
            Channel(f"c{number}", draw(st.sampled_from(NAMES)), accuracy, ohms, draw(st.booleans()))
        )
        rows = [r for rows in draw(st.lists(stretches(levels), max_size=8)) for r in rows]
        if rows:
            gaps, values, steps, units, flags = zip(*rows, strict=True)
            t_ns = np.cumsum(gaps)
            upto_ns = max(upto_ns, int(t_ns[-1]))
            parts.append(Readings.of(t_ns, number, units, values, steps, flags))
    upto_ns += draw(st.sampled_from([0, 1, 10**10]))
    said = draw(notes(many, upto_ns, places))
    leads: list[Note] = [
        Lead(0, n, draw(st.sampled_from(places))) for n in range(many) if draw(st.booleans())
    ]
    whole = Block(Readings.joined(parts).in_order(), (*leads, *said), upto_ns)
    settings = Settings(
        warn_above=draw(st.sampled_from([0.0, 30.0, 1e300])),
        false_alarms_per_h=draw(st.sampled_from([1e-12, 0.01, 1e6])),
    )
    return Session(chart, tuple(channels), settings, whole)
