"""Cases from the plain generator's sets and meters: textbook shapes, many charts, two parts far off."""

from __future__ import annotations

import numpy as np

from benchtui.chart.chart_file import read_chart
from benchtui.model.block import Block
from benchtui.model.notes import Lead, Mark, Note
from benchtui.model.readings import Accuracy, Channel, Flag, Floats, Readings
from benchtui.model.units import Unit

from ..plain.chart_text import chart_text
from ..plain.course import Run, course
from ..plain.meters import Column, Meter, sample
from ..plain.sets import Node, Plan, Rng, build
from ..plain.stage import Stage
from .case import LEAST_S, WARN_ABOVE, Ask, AskBleed, Case, below, crossing, settles

METER_OHMS = 10e6
_STEP_S = 0.02
_NO_NEEDS: frozenset[str] = frozenset()


def make(seed: int) -> Case:
    """The case of this seed; every second has two points far off. Two runs, the second after a pause."""
    rng = np.random.default_rng([1957, 9, seed])
    plan = build(rng, _NO_NEEDS)
    off_chart = bool(seed % 2)
    chart_as_written = chart_text(plan, rng)
    if off_chart:
        _far_off(plan, rng)
    stays = max(150.0, 3.5 * plan.tail_s, 9 * plan.heat_s + 30)
    on1 = float(rng.uniform(3, 10))
    off1 = on1 + stays + float(rng.uniform(5, 40))
    on2 = off1 + max(float(rng.uniform(40, 250)), 4.5 * plan.bleed_s)
    off2 = on2 + stays + 5
    end = off2 + 4.5 * plan.bleed_s + 20
    stage = Stage(rng, plan, end)
    grid = np.arange(0.0, end + 1.0, _STEP_S)
    mains = np.full(len(grid), plan.steady)
    for shape in stage.supply:
        mains = mains * shape(grid)
    runs = [Run(on1, off1), Run(on2, off2)]
    true = course(plan, grid, runs, mains, {})
    calm = course(plan, grid, runs, np.full(len(grid), plan.steady), {})
    bleeder = bool(seed % 4 < 2)
    parts_shown = _bleeder(plan, rng) if bleeder else ""
    chart = read_chart(chart_as_written + parts_shown, "chart.toml")
    told = rng.random() < 0.3
    channels, parts, notes = [], [], []
    asks: list[Ask] = []
    bleeds: list[AskBleed] = []
    for point, meter in stage.meters.items():
        node = plan.nodes[point]
        gain = _made_known(meter, told, rng)
        column = sample(meter, node, grid, true[point], end, rng)
        number = len(channels)
        accuracy = Accuracy(*meter.accuracy) if meter.accuracy else None
        channels.append(Channel(point, point, accuracy, METER_OHMS))
        notes.append(Lead(0, number, point))
        parts.append(_readings(column, node, number))
        if node.unit == "V" and not node.programme and node.kind not in ("regulated", "bias"):
            factor = mains / plan.steady if node.follows else np.ones(len(mains))
            seen = _Seen(grid, calm[point] * gain, true[point] * gain, factor)
            asks += _asks(node, meter, plan, seen, off_chart, (on1, on2), stays)
            first = "bleeder" if bleeder else "neither"
            bleeds += _bleeds(node, meter, seen, off_chart, ((off1, on2, first), (off2, end, "again")))
    acts: list[Note] = list(notes)
    if rng.random() < 0.6:
        times = ((on1, "on"), (off1, "off"), (on2, "on"), (off2, "off"))
        acts += [Mark(round((t + float(rng.uniform(-0.2, 0.6))) * 1e9), what) for t, what in times]
    acts.sort(key=lambda n: n.t_ns)
    return Case(
        "plain", seed, plan.rectifier, chart, tuple(channels),
        Block(Readings.joined(parts).in_order(), tuple(acts), round(end * 1e9)),
        tuple(sorted(asks, key=lambda a: a.at_s)), tuple(sorted(bleeds, key=lambda a: a.at_s)),
    )  # fmt: skip


class _Seen:
    """What is true of one point: on a steady mains, on the real one, and how the mains moves it."""

    def __init__(self, t: Floats, calm: Floats, true: Floats, factor: Floats) -> None:
        self.t, self.calm, self.true, self.factor = t, calm, true, factor


def _far_off(plan: Plan, rng: Rng) -> None:
    """Two points that stand far from the chart once the valves conduct; what hangs on them follows."""
    pool = [n for n in plan.nodes.values() if n.kind in ("root", "stage", "anode", "screen", "cathode")]
    for k in rng.permutation(len(pool))[:2].tolist():
        node = pool[k]
        if node.parent is not None and node.kind != "cathode":
            wanted = node.drop * float(rng.choice([rng.uniform(0.3, 0.7), rng.uniform(1.5, 3.0)]))
            node.drop = min(wanted, 0.85)
        else:
            factor = float(rng.choice([rng.uniform(0.65, 0.88), rng.uniform(1.12, 1.3)]))
            node.level *= factor
            if node.kind == "root":
                plan.surge = max(1.0, plan.surge / factor)
    for node in plan.nodes.values():
        if node.parent is not None and node.kind in ("stage", "anode", "screen"):
            node.level = (1 - node.drop) * plan.nodes[node.parent].level


def _bleeder(plan: Plan, rng: Rng) -> str:
    """Parts that, with the meters, discharge the first point in the plan's time, as a chart prints them."""
    meters = len(plan.of("root", "stage", "anode", "screen"))
    root = next(iter(plan.nodes.values()))
    farads = float(rng.choice([16e-6, 32e-6, 50e-6]))
    while plan.bleed_s / farads > 0.7 * METER_OHMS / meters:
        farads *= 2
    ohms = 1 / (farads / plan.bleed_s - meters / METER_OHMS)
    return (
        f'\n[[part]]\nname = "C1"\nkind = "capacitor"\nvalue = "{farads * 1e6:g} uF"\n'
        f'from = "{root.name}"\nto = "chassis"\n'
        '\n[[part]]\nname = "R1"\nkind = "resistor"\n'
        f'value = "{ohms * float(rng.uniform(0.9, 1.1)) / 1e3:.4g} kohm"\n'
        f'from = "{root.name}"\nto = "chassis"\n'
    )


def _made_known(meter: Meter, told: bool, rng: Rng) -> float:
    """Gives the meter an accuracy, known to the program or not, and an error inside it."""
    part = float(rng.choice([0.0005, 0.002, 0.005, 0.01]))
    meter.gain = 1 + part * float(rng.uniform(-0.6, 0.6))
    if told:
        meter.accuracy = (part, 2)
    return meter.gain


def _readings(column: Column, node: Node, channel: int) -> Readings:
    over = np.array(["overload" in f for f in column.flag])
    unit = Unit.V if node.unit == "V" else Unit.VAC
    return Readings.of(
        np.round(column.t * 1e9).astype(np.int64), channel, int(unit), np.where(over, np.nan, column.value),
        column.count, np.where(over, int(Flag.OVERLOAD), 0),
    )  # fmt: skip


def _asks(
    node: Node, meter: Meter, plan: Plan, seen: _Seen, off_chart: bool, ons: tuple[float, float], stays: float
) -> list[Ask]:
    found: list[Ask] = []
    for on in ons:
        inside = (seen.t >= on) & (seen.t < on + stays)
        t, calm = seen.t[inside], seen.calm[inside]
        final = float(calm[-1])
        settled = settles(t, calm, final, max(0.02 * abs(final), 3 * meter.resolution_at(final)))
        starts = on - plan.heat_s * float(np.log(1 - plan.wakes))
        ends = on + plan.heat_s * 3.5
        top = float(np.abs(calm[t < starts]).max(initial=0.0))
        middle = 0.5 * (starts + ends)
        if plan.rectifier != "indirect" and node.unit == "V" and top > 1.06 * abs(final):
            sign = 1.0 if final > 0 else -1.0
            middle = crossing(t, calm, sign * top, final, 0.5) or middle
        elif node.kind == "cathode" or plan.rectifier == "indirect":
            middle = crossing(t, calm, 0.0, final, 0.5) or middle
        moments = (on + 0.55 * (starts - on), middle, ends)
        phases = ("before", "middle", "after") if on == ons[0] else ("again",) * 3
        if on != ons[0]:
            moments = (on + 1.5 + 2 * meter.period_s, *moments[:2])
        for at, phase in zip(moments, phases, strict=True):
            factor = float(np.interp(at, seen.t, seen.factor))
            found.append(Ask(at, node.name, phase, off_chart, on, final * factor, settled))
    return found


def _bleeds(
    node: Node, meter: Meter, seen: _Seen, off_chart: bool, offs: tuple[tuple[float, float, str], ...]
) -> list[AskBleed]:
    found: list[AskBleed] = []
    for off, until, road in offs:
        inside = (seen.t >= off) & (seen.t < until)
        under = below(seen.t[inside], seen.true[inside], WARN_ABOVE)
        if under is None or under - off < LEAST_S or abs(float(seen.true[inside][0])) < 1.5 * WARN_ABOVE:
            continue
        for part in (0.15, 0.4, 0.7):
            at = off + part * (under - off)
            if under - at > 1.5 and at - off > 1.5 * meter.period_s:
                found.append(AskBleed(at, node.name, road, off_chart, off, under))
    return found
