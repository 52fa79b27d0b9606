"""Cases from the simulated set: three rectifiers, meters of all sorts, sets with two parts far off."""

from __future__ import annotations

import numpy as np

from benchtui.chart.chart_file import read_chart
from benchtui.model.block import Block
from benchtui.model.notes import Lead, Mark, Note
from benchtui.model.readings import Accuracy, Channel, Floats
from benchtui.model.units import Unit
from benchtui.sim.faults import About, Change, To
from benchtui.sim.mains import STEPS_PER_S, MainsCharacter
from benchtui.sim.metermodel import MeterModel, autoranges
from benchtui.sim.meters import Meter
from benchtui.sim.receiver import COLUMNS, POINTS
from benchtui.sim.script import Act
from benchtui.sim.setup import Setup
from benchtui.sim.simulate import chart_text, together

from .case import LEAST_S, WARN_ABOVE, Ask, AskBleed, Case, below, crossing, settles

STAYS_S = 180.0
"""The course at this age is where a point stays; what moves later is creep."""
_OFF = (
    ("r33", 0.6, 2.2), ("r12", 0.5, 2.0), ("r38", 0.7, 1.5), ("r39", 0.7, 1.5), ("r27", 0.6, 1.7),
    ("strength6", 0.45, 1.5), ("strength_rf", 0.4, 1.6), ("r_source", 1.5, 3.0), ("turns_ht", 0.85, 1.12),
    ("emission6", 0.06, 0.12), ("pace6", 0.7, 1.5), ("c32", 0.3, 1.5),
)  # fmt: skip
_LEAKS = (("leak32", 12e3, 40e3), ("leak22", 40e3, 150e3), ("leak25", 15e6, 60e6))


def make(seed: int) -> Case:
    """The case of this seed; every second has two parts far off. Two runs, the second after a pause."""
    rng = np.random.default_rng([1957, 8, seed])
    rectifier = ("solid", "direct", "indirect")[seed % 3]
    off_chart = bool(seed // 3 % 2)
    on1 = float(rng.uniform(3, 10))
    off1 = on1 + STAYS_S + float(rng.uniform(5, 60))
    on2 = off1 + float(rng.uniform(40, 300))
    off2 = on2 + STAYS_S + 5.0
    end = off2 + 60.0
    script = (Act(on1, "on"), Act(off1, "off"), Act(on2, "on"), Act(off2, "off"))
    volts = float(rng.uniform(220, 240))
    mains = MainsCharacter(
        volts, wander=float(rng.choice([0.001, 0.003, 0.006])), flutter=float(rng.choice([0.0003, 0.0008]))
    )
    meters = meters_of(rng)
    faults = _far_off(rng) if off_chart else []
    trace = trace_of(Setup(seed, rectifier, mains, 1.0, meters, script), faults, end)
    still = MainsCharacter(volts, wander=0.0, flutter=0.0)
    calm = trace_of(Setup(seed, rectifier, still, 1.0, meters, script), faults, end)
    taken = [Meter(m, seed).take(trace, 0, len(trace)) for m in meters]
    told = seed % 5 < 2
    channels = tuple(
        Channel(m.name, m.name, m.accuracy if told else None, None if m.unit is Unit.STATE else m.input_ohms)
        for m in meters
    )
    notes: list[Note] = [Lead(0, i, m.point) for i, m in enumerate(meters)]
    if rng.random() < 0.5 or not {"mains", "heater"} & {m.point for m in meters}:
        acts = [(on1, "on"), (off1, "off"), (on2, "on"), (off2, "off")]
        notes += [Mark(round((t + float(rng.uniform(-0.2, 0.5))) * 1e9), what) for t, what in acts]
    bleeder = bool(seed % 4 < 2)
    chart = read_chart(without_parts(chart_text(rectifier), bleeder), "chart.toml")
    asks: list[Ask] = []
    bleeds: list[AskBleed] = []
    for m in meters:
        if m.unit is Unit.V and m.point != "regulator":
            asks += _asks(m, trace, calm, volts, off_chart, rectifier, (on1, off1, on2, off2))
            first = "bleeder" if bleeder else "neither"
            bleeds += bleeds_of(m, trace, off_chart, ((off1, on2, first), (off2, end, "again")))
    return Case(
        "simulated", seed, rectifier, chart, channels,
        Block(together(taken), tuple(sorted(notes, key=lambda n: n.t_ns)), round(end * 1e9)),
        tuple(sorted(asks, key=lambda a: a.at_s)), tuple(sorted(bleeds, key=lambda a: a.at_s)),
    )  # fmt: skip


def trace_of(setup: Setup, faults: list[tuple[To, ...]], end: float) -> Floats:
    made = [Change(About("off", "B+1", "step"), to=to) for to in faults]
    run = setup.run(made)
    run.go_to(round(end * STEPS_PER_S))
    return run.trace()


def _far_off(rng: np.random.Generator) -> list[tuple[To, ...]]:
    """Two parts far off their values from the beginning."""
    pool = [*((n, a, b, True) for n, a, b in _OFF), *((n, a, b, False) for n, a, b in _LEAKS)]
    found = []
    for k in rng.choice(len(pool), 2, replace=False).tolist():
        name, a, b, factor = pool[k]
        value = a * (b / a) ** float(rng.random())
        while factor and b > 1.2 and 0.85 < value < 1.15:
            value = a * (b / a) ** float(rng.random())
        found.append((To(name, value, factor),))
    return found


def meters_of(rng: np.random.Generator) -> tuple[MeterModel, ...]:
    keep = ["B+1"]
    chance = {"mains": 0.55, "heater": 0.4, "pilot": 0.1}
    keep += [p for p in POINTS if p != "B+1" and rng.random() < chance.get(p, 0.75)]
    return tuple(_meter(rng, p) for p in keep)


def _meter(rng: np.random.Generator, point: str) -> MeterModel:
    rate = float(rng.choice([0.5, 1.0, 1.0, 2.0, 2.0, 2.5, 4.0, 5.0, 10.0])) * float(rng.uniform(0.9, 1.1))
    if point == "pilot":
        return MeterModel(point, point, Unit.STATE, rate=2.0, window_s=0.1)
    counts = int(rng.choice([2000, 4000, 6000, 20_000, 60_000, 200_000]))
    part = {2000: 0.01, 4000: 0.008, 6000: 0.005, 20_000: 0.001, 60_000: 0.0005, 200_000: 0.0002}[counts]
    ranges = autoranges(counts)
    if rng.random() < 0.4:
        ranges = (ranges[-1],) if point not in ("V6 cathode", "heater") else (ranges[1],)
    return MeterModel(
        point, point, Unit.VAC if point in ("mains", "heater") else Unit.V, rate=rate, counts=counts,
        ranges=ranges, window_s=float(rng.choice([0.3, 0.9, 1.0])) / rate,
        accuracy=Accuracy(part, 2), gain=part * float(rng.uniform(-0.6, 0.6)),
        noise=float(rng.uniform(0.2, 1.0)),
        jitter_s=float(rng.choice([0.0, 0.1, 0.3])) / rate,
        range_manner=str(rng.choice(["overload", "half", "skip"])), range_s=float(rng.uniform(0.2, 1.0)),
    )  # fmt: skip


def without_parts(text: str, bleeder: bool) -> str:
    """The chart, with or without its parts: without them nothing tells of a bleeder."""
    if bleeder:
        return text
    head, *parts = text.split("[[part]]")
    return head + "[[derived]]" + parts[-1].split("[[derived]]")[1]


def _asks(
    m: MeterModel, trace: Floats, calm: Floats, volts: float, off_chart: bool, rectifier: str,
    edges: tuple[float, float, float, float],
) -> list[Ask]:  # fmt: skip
    """Questions about one point: three in the first run, three in the second."""
    on1, _, on2, _ = edges
    column, supply = COLUMNS.index(m.point), trace[:, COLUMNS.index("mains")]
    found: list[Ask] = []
    for on, phases in ((on1, ("before", "middle", "after")), (on2, ("again",) * 3)):
        a = round(on * STEPS_PER_S)
        course = calm[a : a + round(STAYS_S * STEPS_PER_S), column]
        t = on + np.arange(len(course)) / STEPS_PER_S
        final = float(course[-1])
        if abs(final) < 0.05 * (285.0 if m.point != "V6 cathode" else 9.4):
            continue
        near = max(0.02 * abs(final), 3 * _count(m, final))
        settled = settles(t, course, final, near)
        current = calm[a : a + len(course), COLUMNS.index("output current")]
        moments = _moments(t, course, final, current, rectifier)
        if moments is None:
            continue
        if phases[0] == "again":
            moments = (on + 1.5 + 2.0 / m.rate, moments[0], moments[1])
        for at, phase in zip(moments, phases, strict=True):
            factor = supply[min(round(at * STEPS_PER_S), len(supply) - 1)] / volts
            truth = final * (factor if m.point != "regulator" else 1.0) * (1 + m.gain)
            found.append(Ask(at, m.point, phase, off_chart, on, truth, settled))
    return found


def _moments(
    t: Floats, course: Floats, final: float, current: Floats, rectifier: str
) -> tuple[float, float, float] | None:
    """Before the valves conduct, by the middle of the sag (of the rise, where there is none), after it."""
    load = [crossing(t, current, 0.0, float(current[-1]), part) for part in (0.02, 0.5, 0.98)]
    if load[0] is None or load[1] is None or load[2] is None:
        return None
    top = float(course[: max(1, round((load[0] - t[0]) * STEPS_PER_S))].max())
    middle = load[1]
    if rectifier != "indirect" and top - final > 0.06 * final:
        middle = crossing(t, course, top, final, 0.5) or middle
    return float(t[0] + 0.55 * (load[0] - t[0])), middle, load[2] + 3.0


def _count(m: MeterModel, value: float) -> float:
    scale = next((r for r in m.ranges if r >= abs(value)), m.ranges[-1])
    return 10.0 ** -m.decimals(scale)


def bleeds_of(
    m: MeterModel, trace: Floats, off_chart: bool, offs: tuple[tuple[float, float, str], ...]
) -> list[AskBleed]:
    found: list[AskBleed] = []
    for off, until, road in offs:
        a, b = round(off * STEPS_PER_S), round(until * STEPS_PER_S)
        course = trace[a:b, COLUMNS.index(m.point)] * (1 + m.gain)
        t = off + np.arange(len(course)) / STEPS_PER_S
        under = below(t, course, WARN_ABOVE)
        if under is None or under - off < LEAST_S or abs(float(course[0])) < 1.5 * WARN_ABOVE:
            continue
        for part in (0.15, 0.4, 0.7):
            at = off + part * (under - off)
            if under - at > 1.5 and at - off > 1.5 / m.rate:
                found.append(AskBleed(at, m.point, road, off_chart, off, under))
    return found
