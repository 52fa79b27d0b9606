"""Plays a stage out: the course of every point, what the meters sent, the files and all labels."""

from __future__ import annotations

import numpy as np

from . import at_end, labels
from .case import Case, Stream
from .chart_text import chart_text
from .course import Array, course
from .meters import Column, sample
from .stage import Stage


def play(stage: Stage, seed: int, scene: str) -> Case:
    """The finished case of this stage."""
    chart = chart_text(stage.plan, stage.rng)
    until = stage.cursor + max(stage.tail_s, 14 * stage.slowest)
    grid = np.arange(0.0, until + 1.0, stage.grid_s)
    mains = np.full(len(grid), stage.plan.steady)
    for shape in stage.supply:
        mains = mains * shape(grid)
    bench = _bench(stage)
    both = {n: [*stage.nature[n], *stage.edits[n]] for n in stage.plan.nodes}
    true = course(stage.plan, grid, stage.runs, mains, both)
    calm = course(stage.plan, grid, stage.runs, np.full(len(grid), stage.plan.steady), stage.nature)
    columns = _columns(stage, grid, true, until)
    glances = _eyes(stage, true, grid, until)
    scene_view = labels.View(stage, grid, mains, true, calm, columns, until)
    truths = [*(labels.bled(scene_view, t) for t in stage.truths), *labels.truths(scene_view)]
    return Case(
        seed=seed, scene=scene, fault_free=stage.fault_free, chart=chart, bench=bench,
        readings=_csv(stage, columns, glances, bench is not None), marks=_marks(stage), until_s=until,
        truths=tuple(truths), settlings=at_end.settlings(scene_view), decisions=at_end.decisions(scene_view),
        streams=tuple(_streams(stage, columns)), times=_times(columns, glances),
    )  # fmt: skip


def _bench(stage: Stage) -> str | None:
    if stage.rng.random() > 0.3:
        return None
    blocks = []
    for number, meter in enumerate(stage.meters.values()):
        meter.channel = f"meter {number + 1}"
        part = float(stage.rng.choice([0.0005, 0.002, 0.005, 0.01]))
        meter.accuracy = (part, 2)
        meter.gain = 1 + part * float(stage.rng.uniform(-0.6, 0.6))
        unit = stage.plan.nodes[meter.point].unit
        blocks.append(
            f'[[meter]]\nname = "{meter.channel}"\ndriver = "lines"\nport = "COM{number + 3}"\n'
            f'measures = "{unit}"\naccuracy = "{100 * part:g} % + 2 counts"\ninput_resistance = "10 Mohm"\n'
        )
    return "\n".join(blocks)


def _columns(stage: Stage, grid: Array, true: dict[str, Array], until: float) -> dict[str, Column]:
    columns = {}
    for point, meter in stage.meters.items():
        node = stage.plan.nodes[point]
        columns[point] = sample(meter, node, grid, true[point], until, stage.rng)
        if meter.low_battery:
            columns[point].flag = [f"{f} low_battery".strip() for f in columns[point].flag]
    for moved_from, moved_to, at in stage.moves:
        _move(stage, grid, true, columns, moved_from, moved_to, at, until)
    for point, touch in stage.touches:
        touch(columns[point])
    return columns


def _move(
    stage: Stage, grid: Array, true: dict[str, Array], columns: dict[str, Column],
    moved_from: str, moved_to: str, at: float, until: float,
) -> None:  # fmt: skip
    """The lead of a meter goes to another point; for a moment it is on nothing and sends nothing."""
    meter, column = stage.meters[moved_from], columns[moved_from]
    fresh = sample(meter, stage.plan.nodes[moved_to], grid, true[moved_to], until, stage.rng)
    column.keep &= column.t < at
    late = fresh.t > at + 2.0
    fresh.keep = late
    for name in ("t", "value", "count", "keep"):
        setattr(column, name, np.concatenate([getattr(column, name), getattr(fresh, name)]))
    column.unit += fresh.unit
    column.flag += fresh.flag
    column.point += fresh.point


def _eyes(
    stage: Stage, true: dict[str, Array], grid: Array, until: float
) -> dict[str, list[tuple[float, int]]]:
    """When the technician pressed the key for a lamp, and what was seen."""
    looks: dict[str, list[tuple[float, int]]] = {}
    for node in stage.plan.of("lamp"):
        state = true[node.name]
        edges = grid[1:][np.diff(state) != 0]
        at = [float(e) + float(stage.rng.uniform(0.5, 1.4)) for e in edges]
        now = 2.0
        while now < until - 1:
            at.append(now)
            now += float(stage.rng.uniform(15, 70))
        kept = sorted(round(a, 2) for a in at if a < until - 0.5 and not _away(stage, a))
        looks[node.name] = [(a, int(state[np.searchsorted(grid, a - 0.3)])) for a in kept]
    return looks


def _away(stage: Stage, at: float) -> bool:
    return any(a <= at <= b for a, b in stage.unlooked)


def _csv(
    stage: Stage, columns: dict[str, Column], eyes: dict[str, list[tuple[float, int]]], named: bool
) -> str:
    named = named or bool(stage.moves)
    wide = any(m.writes_resolution for m in stage.meters.values())
    rows: list[tuple[float, str]] = []
    for key, column in columns.items():
        channel = stage.meters[key].channel
        keep, times, values, counts = (
            x.tolist() for x in (column.keep, column.t, column.value, column.count)
        )
        for i, kept in enumerate(keep):
            if kept:
                shown = "" if "overload" in column.flag[i] else _decimal(values[i], counts[i])
                row = f"{times[i]:.4f},{column.point[i]},{shown},{column.unit[i]},{column.flag[i]}"
                row += f",{channel}" if named else ""
                rows.append((times[i], row + (f",{counts[i]:g}" if wide else "")))
    for point, looks in eyes.items():
        extra = (f",{point}" if named else "") + ("," if wide else "")
        rows += [(at, f"{at:.4f},{point},{state},state,{extra}") for at, state in looks]
    rows.sort(key=lambda r: r[0])
    head = "t_s,point,value,unit,flag" + (",channel" if named else "") + (",resolution" if wide else "")
    return head + "\n" + "\n".join(row for _, row in rows) + "\n"


def _decimal(value: float, count: float) -> str:
    places = max(0, int(np.ceil(-np.log10(count) - 1e-9)))
    return f"{value:.{places}f}"


def _marks(stage: Stage) -> str:
    lines = [f"{at:.3f},{kind},{note},{what}" for at, kind, note, what in sorted(stage.marks)]
    return "\n".join(["t_s,kind,note,what", *lines]) + "\n"


def _streams(stage: Stage, columns: dict[str, Column]) -> list[Stream]:
    found = []
    for key, column in columns.items():
        meter = stage.meters[key]
        points = tuple(dict.fromkeys(column.point))
        hours = float(column.keep.sum()) * meter.period_s / 3600
        found.append(
            Stream(meter.channel, points, meter.period_s, meter.window_s, meter.delay_s, meter.counts, hours)
        )
    return found


def _times(
    columns: dict[str, Column], eyes: dict[str, list[tuple[float, int]]]
) -> dict[str, tuple[float, ...]]:
    times: dict[str, list[float]] = {}
    for column in columns.values():
        for at, point, kept in zip(column.t.tolist(), column.point, column.keep.tolist(), strict=True):
            if kept:
                times.setdefault(point, []).append(at)
    for point, looks in eyes.items():
        times[point] = [at for at, _ in looks]
    return {point: tuple(sorted(at)) for point, at in times.items()}
