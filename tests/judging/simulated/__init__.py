"""The simulated set as a generator of labelled cases; it shares the record of a case with the plain one."""

from __future__ import annotations

import numpy as np

from benchtui.chart.chart_file import read_chart
from benchtui.model.readings import NO_VALUE
from benchtui.model.units import Unit
from benchtui.sim.mains import STEPS_PER_S, MainsCharacter
from benchtui.sim.metermodel import MeterModel
from benchtui.sim.meters import Meter, Taken
from benchtui.sim.setup import Setup
from benchtui.sim.simulate import chart_text
from benchtui.sim.truth import Evidence

from ..case import Case, Stream
from .bench import meters_of
from .events import of_the_set
from .plot import Plot
from .rules import by_rule, decisions, settlings
from .scenes import SCENES, scene_of
from .view import View

__all__ = ["SCENES", "make", "scene_of"]


def make(seed: int) -> Case:
    """The case of this seed; every third is fault-free. The same seed gives the same case, byte for byte."""
    scene, free = scene_of(seed)
    plot = Plot.begun(seed)
    scene.play(plot)
    view = _gone_through(plot)
    truths = (*of_the_set(view), *by_rule(view))
    named = view.told_accuracy
    return Case(
        seed=seed, scene=scene.name, fault_free=free, chart=view.chart.text,
        bench=_bench(view) if named else None,
        readings=_readings(view, named), marks=_marks(view), until_s=view.until, truths=truths,
        settlings=settlings(view), decisions=decisions(view), streams=tuple(_streams(view)),
        times={m.point: tuple((t.t_ns / 1e9).tolist()) for m, t in _pairs(view)},
    )  # fmt: skip


def _gone_through(plot: Plot) -> View:
    models = meters_of(plot)
    setup = Setup(plot.seed, plot.rectifier, plot.character(), 1.0, models, plot.script())
    steps = round(plot.seconds * STEPS_PER_S)
    run, twin = setup.run(plot.faults), setup.run(())
    still = MainsCharacter(volts=plot.character().volts, wander=0.0, flutter=0.0)
    calm = Setup(plot.seed, plot.rectifier, still, 1.0, models, plot.script()).run(())
    for each in (run, twin, calm):
        each.go_to(steps)
    trace = run.trace()
    taken = [Meter(model, plot.seed).take(trace, 0, steps) for model in models]
    evidence = Evidence(run, trace, twin.trace(), models, taken)
    told = plot.seed % 5 < 2
    return View(plot, evidence, calm.trace(), read_chart(chart_text(plot.rectifier), "chart.toml"), told)


def _pairs(view: View) -> list[tuple[MeterModel, Taken]]:
    return list(zip(view.evidence.meters, view.evidence.taken, strict=True))


def _name(point: str) -> str:
    return f"meter on {point}"


def _bench(view: View) -> str:
    blocks = []
    for number, (model, _) in enumerate(_pairs(view)):
        part = 100 * model.accuracy.of_reading
        rated = "" if model.unit is Unit.STATE else f'accuracy = "{part:g} % + 2 counts"\n'
        blocks.append(
            f'[[meter]]\nname = "{_name(model.point)}"\ndriver = "lines"\nport = "COM{number + 3}"\n'
            f'measures = "{model.unit.symbol}"\npoint = "{model.point}"\n{rated}'
        )
    return "\n".join(blocks)


def _readings(view: View, named: bool) -> str:
    rows: list[tuple[int, str]] = []
    for model, got in _pairs(view):
        for t_ns, value, places, flags, unit in zip(
            *(x.tolist() for x in (got.t_ns, got.value, got.decimals, got.flags, got.unit)), strict=True
        ):  # fmt: skip
            over = bool(flags & int(NO_VALUE))
            shown = "" if over else f"{value:.{max(0, places)}f}"
            count = "" if Unit(unit) is Unit.STATE else f"{10.0**-places:g}"
            row = f"{t_ns / 1e9:.4f},{model.point},{shown},{Unit(unit).symbol},{'overload' if over else ''}"
            rows.append((t_ns, f"{row},{_name(model.point)},{count}" if named else f"{row},{count}"))
    rows.sort(key=lambda r: r[0])
    head = "t_s,point,value,unit,flag," + ("channel," if named else "") + "resolution"
    return "\n".join([head, *(row for _, row in rows)]) + "\n"


def _marks(view: View) -> str:
    power = view.plot.seed % 2 == 0
    kinds = {"tap": "tap", "replace": "swap"} | ({"on": "on", "off": "off"} if power else {})
    lines = [f"{a.at_s:.3f},{kinds[a.what]},{a.note}" for a in view.evidence.run.done if a.what in kinds]
    return "\n".join(["t_s,kind,note", *lines]) + "\n"


def _streams(view: View) -> list[Stream]:
    powered = float(np.sum(view.powered())) / STEPS_PER_S
    found = []
    for model, got in _pairs(view):
        hours = min(len(got) / model.rate, powered) / 3600
        digits = 1 if model.unit is Unit.STATE else model.counts
        channel = _name(model.point) if view.told_accuracy else model.point
        found.append(Stream(channel, (model.point,), 1.0 / model.rate, model.averages_s, 0.0, digits, hours))
    return found
