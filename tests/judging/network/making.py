"""One case from a seed: the set drawn, its fault chosen, the network solved, read and labelled."""

from __future__ import annotations

import csv
import io
import math

import numpy as np

from ..case import Case, Stream
from .bench import Bench
from .blueprint import MAINS, Blueprint, Spot
from .charting import SURGE_S, written
from .families import built, course, printed, warms
from .heating import heated
from .labels import fault_truths
from .meter_labels import mains_truths, meter_truths, power_truths
from .meters import Meter, drawn
from .plan import Plan, edges, grid, supplied
from .reading import Row, Taken, take
from .record import Record
from .scenes import family_of, scene_of
from .solving import compiled, solve
from .verdicts import decisions, level_truths, settlings


def make(seed: int) -> Case:
    """The case of a seed; always the same."""
    scene, free = scene_of(seed)
    family = family_of(seed, scene)
    rng = np.random.default_rng([seed, 1])
    sheet_set, blueprint = built(family, seed, bench=False), built(family, seed, bench=True)
    spots = _measured(blueprint, scene.name, rng)
    plan = scene.play(Bench(blueprint, compiled(blueprint.circuit), spots, rng))
    record = _record(sheet_set, blueprint, family, spots, plan, rng)
    truths = [*fault_truths(record), *meter_truths(record), *mains_truths(record), *power_truths(record),
              *level_truths(record)]  # fmt: skip
    told = tuple(sorted(truths, key=lambda t: (t.start_s, t.name)))
    return Case(
        seed=seed, scene=scene.name, fault_free=free, chart=record.sheet.text,
        bench=_bench_text(record.taken, rng) if rng.random() < 0.5 else None,
        readings=_readings(record.taken, rng), marks=_marks(plan), until_s=plan.end_s,
        truths=told, settlings=settlings(record), decisions=decisions(record),
        streams=tuple(_stream(k) for k in record.taken if k.meter.spot.unit != "state"),
        times={k.meter.spot.name: tuple(k.t.tolist()) for k in record.taken if len(k.t)},
    )  # fmt: skip


def _measured(bp: Blueprint, scene: str, rng: np.random.Generator) -> list[Spot]:
    """Two to nine points, at least two of them in volts, in the order of the chart."""
    lamp, bleeder = scene == "lamp_joint", scene == "open_bleeder"
    for _ in range(50):
        spots = [s for s in bp.spots if rng.random() < s.likely or (lamp and s.unit == "state")
                 or (bleeder and s.bleeds)]  # fmt: skip
        if len(spots) > 9:
            keep = sorted(rng.choice(len(spots), 9, replace=False).tolist())
            spots = [spots[k] for k in keep]
        if sum(s.unit == "V" and not s.programme for s in spots) >= 2:
            break
    return spots


def _record(
    sheet_set: Blueprint, bp: Blueprint, family: int, spots: list[Spot], plan: Plan,
    rng: np.random.Generator,
) -> Record:  # fmt: skip
    net = compiled(bp.circuit)
    t = grid(plan, edges(plan) + _pulse_edges(plan))
    mains, _ = supplied(plan, t, rng)
    factors = {name: f(t) for name, f in plan.factors.items()}
    warm, tap = heated(bp.heating, warms(bp), t, mains, {k: f(t) for k, f in plan.heaters.items()}, bp.tail_s)
    volts, lit = solve(net, t, mains, warm, factors)
    courses = {s.name: course(s, net, volts, lit, mains, tap) for s in bp.spots}
    shown = printed(sheet_set)
    shown.bench.update(printed(bp).settled)
    sizes = {s.name: abs(shown.settled[s.name]) for s in spots}
    sizes |= {s.name: 230.0 for s in spots if s.node == MAINS}
    meters = drawn(spots, sizes, plan, rng)
    highest = {name: float(np.abs(c[t > 0, 1]).max()) for name, c in courses.items()}
    late = t > max(plan.on[0][0], -100) + SURGE_S
    steady = {name: float(np.abs(c[late, 1]).max()) for name, c in courses.items()}
    bleeds = _bleeds(bp, plan, t, courses) if plan.bleeds else {}
    sheet = written(sheet_set, family, spots, shown, highest, steady, bleeds, plan, rng)
    taken = [take(m, t, courses[m.spot.name], plan, rng) for m in meters]
    return Record(plan, bp, sheet, taken, t, mains, courses)


def _pulse_edges(plan: Plan) -> list[float]:
    """The edges of a flickering joint, which has no episode of its own for each."""
    found: list[float] = []
    for e in plan.episodes:
        if e.kind == "chatter":
            found += np.arange(e.start, e.end, 1.4).tolist()
    return found


def _bleeds(bp: Blueprint, plan: Plan, t: np.ndarray, courses: dict[str, np.ndarray]) -> dict[str, float]:
    """By when the sound set is below 30 V after the switch-off, with something to spare."""
    off = plan.on[-1][1]
    found = {}
    for spot in bp.spots:
        if spot.bleeds:
            after = (t > off) & (np.abs(courses[spot.name][:, 1]) < 30)
            if after.any():
                took = float(t[after][0]) - off
                found[spot.name] = max(20.0, math.ceil(1.4 * took / 10) * 10.0)
    return found


def _readings(taken: list[Taken], rng: np.random.Generator) -> str:
    rows: list[Row] = sorted((row for k in taken for row in k.rows), key=lambda r: (r[0], r[5]))
    wide, exact = rng.random() < 0.6, rng.random() < 0.5
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    head = ["t_s", "point", "value", "unit", "flag"]
    writer.writerow(head + ["channel"] * wide + ["resolution"] * exact)
    for t, point, value, unit, flag, channel, res in rows:
        writer.writerow([f"{t:.4f}", point, value, unit, flag] + [channel] * wide + [res] * exact)
    return out.getvalue()


def _marks(plan: Plan) -> str:
    rows = [(t, "tap", "chassis") for t in plan.taps]
    if plan.marked:
        rows += [(round(a, 2), "on", "") for a, _ in plan.on if a >= 0]
        rows += [(round(b, 2), "off", "") for _, b in plan.on if math.isfinite(b)]
    return "t_s,kind,note\n" + "".join(f"{t:g},{kind},{note}\n" for t, kind, note in sorted(rows))


def _bench_text(taken: list[Taken], rng: np.random.Generator) -> str:
    lines: list[str] = []
    for n, k in enumerate(taken):
        m = k.meter
        if m.spot.unit == "state":
            continue
        driver, port = ("typed", "typed") if m.typed else ("lines", f"/dev/ttyUSB{n}")
        lines += ["[[meter]]", f'name = "{m.channel}"', f'driver = "{driver}"', f'port = "{port}"']
        lines += [f'measures = "{m.spot.unit}"', f'point = "{m.spot.name}"']
        if m.typed:
            lines.append('accuracy = "2 % of full scale"')
        elif rng.random() < 0.8:
            lines.append(f'accuracy = "{100 * m.accuracy:g} % + {3 if m.digits < 1e5 else 30} counts"')
        lines += ['input_resistance = "10 Mohm"'] if rng.random() < 0.3 else []
        lines.append("")
    return "\n".join(lines)


def _stream(k: Taken) -> Stream:
    m: Meter = k.meter
    pause = np.diff(k.t)
    hours = float(pause[pause < 3 * m.period_s + 2].sum()) / 3600
    period = max(m.period_s, m.converts_s)
    return Stream(m.channel, (m.spot.name,), period, m.window_s, m.delay_s, m.digits, hours)
