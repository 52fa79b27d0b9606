"""Streams made by hypothesis: several meters at their own rates and delays, and all that befalls a bench."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st

from benchtui.chart.chart import Chart, Glow, Point, Span
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.notes import MARK_KINDS, TROUBLE_KINDS, Lead, Mark, Note, Trouble
from benchtui.model.readings import Accuracy, Channel, Flag, Readings
from benchtui.model.units import Unit

from .cutting import Session
from .streams import ac, dc, ns

TREE = Chart(
    "a bench",
    mains=230.0,
    points=(
        ac("mains", 230.0),
        ac("heater", 6.3),
        dc("B+1", 285.0, limit=350.0, surge=400.0, surge_s=20.0, bleed_s=20.0),
        dc("B+2", 240.0, fed_from="B+1", through=2200.0, limit=330.0),
        dc("anode", 120.0, fed_from="B+2", moves="programme"),
        dc("bias", -22.0, 0.2),
        dc("tube", 150.0, 0.05, fed_from="B+1", through=1e4, follows_mains=False, current=0.005,
           glow=Glow(Span(155, 185), Span(135, 145), Span(0.005, 0.03))),
        Point("pilot", Unit.STATE, nominal=1.0, fed_from="B+2", seen=True,
              glow=Glow(Span(65, 90), Span(50, 65))),
    ),
)  # fmt: skip
PLACES = [*(p.name for p in TREE.points), "loose end"]
MANNERS = ("silent", "overload", "hold", "invalid", "low", "unit", "range", "stuck", "turned")
HAPPENINGS = ("gone", "up", "step", "drift", "noisy", *MANNERS)


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that befalls a channel for a while."""

    what: str
    start_s: float
    length_s: float
    part: float


@st.composite
def _happening(draw: st.DrawFn, until_s: float) -> Happening:
    return Happening(
        draw(st.sampled_from(HAPPENINGS)),
        draw(st.floats(0, until_s, allow_nan=False)),
        draw(st.sampled_from([0.3, 1.0, 3.0, 9.0, 30.0])),
        draw(st.sampled_from([0.02, 0.06, 0.3, 0.9])),
    )


@st.composite
def _notes(draw: st.DrawFn, until_s: float, channels: int) -> list[Note]:
    when = st.floats(0, until_s, allow_nan=False).map(ns)
    marks = st.builds(Mark, when, st.sampled_from(MARK_KINDS), st.sampled_from(["", "C12"]))
    leads = st.builds(Lead, when, st.integers(0, channels - 1), st.sampled_from([None, *PLACES]))
    wire = st.builds(Trouble, when, st.sampled_from(["m0", "m1", "x"]), st.sampled_from(TROUBLE_KINDS))
    some_marks = draw(st.lists(marks, max_size=6))
    some_leads = draw(st.lists(leads, max_size=4))
    return [*some_marks, *some_leads, *draw(st.lists(wire, max_size=4))]


@st.composite
def sessions(draw: st.DrawFn) -> Session:
    """A bench of two to five meters, one of them silent for good, for up to two minutes."""
    until_s = draw(st.sampled_from([25.0, 60.0, 120.0]))
    on_s = draw(st.sampled_from([-100.0, 0.5, 4.0]))
    off_s = draw(st.sampled_from([1e3, 0.7 * until_s]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    places = draw(st.lists(st.sampled_from(PLACES), min_size=2, max_size=5, unique=True))
    grid = draw(st.sampled_from([1, 1_000_000, 250_000_000]))
    channels: list[Channel] = []
    notes: list[Note] = []
    parts: list[Readings] = []
    for number, place in enumerate(places):
        lamp = place == "pilot"
        accuracy = draw(st.sampled_from([None, Accuracy(0.005, 2)]))
        channels.append(Channel(f"c{number}", f"m{number}", accuracy, None, lamp and draw(st.booleans())))
        notes.append(Lead(0, number, place))
        if number:
            happenings = draw(st.lists(_happening(until_s), max_size=4))
            rate = draw(st.sampled_from([0.4, 1.0, 2.0, 5.0, 10.0] if not lamp else [0.5, 2.0]))
            parts.append(_stream(number, place, rate, (on_s, off_s, until_s), happenings, rng, grid))
    notes += draw(_notes(until_s, len(places)))
    notes.sort(key=lambda n: n.t_ns)
    readings = Readings.joined(parts).in_order()
    settings = Settings(false_alarms_per_h=draw(st.sampled_from([0.01, 1.0])))
    return Session(TREE, tuple(channels), settings, Block(readings, tuple(notes), ns(until_s)))


def _stream(
    channel: int, place: str, rate: float, span: tuple[float, float, float], happenings: list[Happening],
    rng: np.random.Generator, grid: int,
) -> Readings:  # fmt: skip
    """One channel's readings: a warm-up and a fall, and what befalls it on the way."""
    on_s, off_s, until_s = span
    point = TREE.point(place) or Point(place, Unit.V, nominal=90.0)
    t_s = np.sort(np.arange(rng.uniform(0, 2), until_s, 1 / rate) + rng.uniform(0, 0.3 / rate))
    age = t_s - on_s
    delay, tau = (0.0, 0.2) if point.unit is Unit.VAC else (2.0, 3.0)
    up = np.where(age > delay, 1 - np.exp(-np.maximum(age - delay, 0) / tau), 0.0)
    down = np.where(t_s > off_s, np.exp(-np.maximum(t_s - off_s, 0) / (0.05 if delay == 0 else 8.0)), 1.0)
    x = (point.nominal or 0.0) * up * down
    step = np.full(
        len(x), 0.0 if point.unit is Unit.STATE else 0.1 if abs(point.nominal or 0) > 20 else 0.001
    )
    unit = np.full(len(x), int(point.unit), dtype=np.uint8)
    flags = np.zeros(len(x), dtype=np.uint8)
    kept = np.ones(len(x), dtype=bool)
    wild = np.ones(len(x))
    for h in happenings:
        rows = (t_s >= h.start_s) & (t_s < h.start_s + h.length_s)
        _befalls(h, rows, t_s, x, step, unit, flags, kept, wild, TREE.point(place) is not None)
    if point.unit is Unit.STATE:
        x = (x > 0.5).astype(np.float64)
    else:
        x = x + rng.normal(0, 1, len(x)) * step * wild
        x = np.where(step > 0, np.round(x / np.maximum(step, 1e-9)) * step, x)
    x[(flags & int(Flag.OVERLOAD | Flag.INVALID)) > 0] = np.nan
    t_ns = np.round(t_s * 1e9 / grid).astype(np.int64) * grid
    rows = kept & (t_ns <= ns(until_s))
    return replace(Readings.of(t_ns, channel, unit, x, step, flags)).take(rows)


def _befalls(
    h: Happening, rows: np.ndarray, t_s: np.ndarray, x: np.ndarray, step: np.ndarray, unit: np.ndarray,
    flags: np.ndarray, kept: np.ndarray, wild: np.ndarray, charted: bool,
) -> None:  # fmt: skip
    sets = {"overload": Flag.OVERLOAD, "hold": Flag.HOLD, "invalid": Flag.INVALID, "low": Flag.LOW_BATTERY}
    if h.what in ("gone", "up"):
        x[rows] *= 1 - h.part if h.what == "gone" else 1 + h.part
    elif h.what == "step":
        x[t_s >= h.start_s] *= 1 - h.part
    elif h.what == "drift":
        x *= 1 + h.part * np.clip((t_s - h.start_s) / 60, 0, 1)
    elif h.what == "noisy":
        wild[rows] = 1 + 2000 * h.part
    elif h.what == "silent":
        kept[rows] = False
    elif h.what in sets:
        flags[rows] |= int(sets[h.what])
    elif h.what == "unit":
        unit[rows] = int(Unit.VAC if h.part < 0.1 or not charted else Unit.UNKNOWN)
    elif h.what == "range":
        step[rows] *= 10
    elif h.what == "stuck" and rows.any():
        x[rows] = x[rows][0]
        wild[rows] = 0
    elif h.what == "turned":
        x[rows] *= -1
