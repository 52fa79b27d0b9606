"""Power-offs of the simulated set with larger capacitors and a weaker bleeder, as many sets have them."""

from __future__ import annotations

import re

import numpy as np

from benchtui.chart.chart_file import read_chart
from benchtui.model.block import Block
from benchtui.model.notes import Lead, Mark, Note
from benchtui.model.readings import Channel
from benchtui.model.units import Unit
from benchtui.sim.faults import To
from benchtui.sim.mains import MainsCharacter
from benchtui.sim.meters import Meter
from benchtui.sim.script import Act
from benchtui.sim.setup import Setup
from benchtui.sim.simulate import chart_text, together

from .case import AskBleed, Case
from .simulated import bleeds_of, meters_of, trace_of, without_parts


def make(seed: int) -> Case:
    """The case of this seed: three runs of a set; after each the power goes off until all is discharged."""
    rng = np.random.default_rng([1957, 10, seed])
    rectifier = ("solid", "direct", "indirect")[seed % 3]
    more, weak = 2.0 * 15.0 ** float(rng.random()), float(rng.uniform(2.0, 10.0))
    parts = [
        (To("c31", more, True), To("c32", more, True), To("r38", weak, True), To("r39", weak, True)),
    ]
    wait = 30.0 + min(3.0 * 2.6 * more * weak, 600.0)
    times, at = [], float(rng.uniform(3, 8))
    for long in (float(rng.uniform(45, 150)), float(rng.uniform(45, 150))):
        times.append((at, at + long))
        at += long + wait
    end = at
    acts = [Act(t, what) for on, off in times for t, what in ((on, "on"), (off, "off"))]
    mains = MainsCharacter(float(rng.uniform(222, 238)), wander=0.004)
    meters = meters_of(rng)
    trace = trace_of(Setup(seed, rectifier, mains, 1.0, meters, tuple(acts)), parts, end)
    notes: list[Note] = [Lead(0, i, m.point) for i, m in enumerate(meters)]
    if rng.random() < 0.6 or not {"mains", "heater"} & {m.point for m in meters}:
        notes += [Mark(round((a.at_s + float(rng.uniform(-0.2, 0.5))) * 1e9), a.what) for a in acts]
    bleeder = bool(seed % 4 < 2)
    text = _as_built(chart_text(rectifier), more, weak)
    chart = read_chart(without_parts(text, bleeder), "chart.toml")
    first = "bleeder" if bleeder else "neither"
    offs = ((times[0][1], times[1][0], first), (times[1][1], end, "again"))
    bleeds: list[AskBleed] = []
    for m in meters:
        if m.unit is Unit.V:
            bleeds += bleeds_of(m, trace, False, offs)
    taken = [Meter(m, seed).take(trace, 0, len(trace)) for m in meters]
    channels = tuple(Channel(m.name, m.name, None, m.input_ohms) for m in meters)
    return Case(
        "discharged", seed, rectifier, chart, channels,
        Block(together(taken), tuple(sorted(notes, key=lambda n: n.t_ns)), round(end * 1e9)), (),
        tuple(sorted(bleeds, key=lambda a: a.at_s)),
    )  # fmt: skip


def _as_built(text: str, more: float, weak: float) -> str:
    """The chart with the values that this set was built with."""
    for name, value in (("C31", f"{32 * more:.3g} uF"), ("C32", f"{32 * more:.3g} uF"),
                        ("R38", f"{22 * weak:.3g} kohm"), ("R39", f"{18 * weak:.3g} kohm")):  # fmt: skip
        text = re.sub(rf'(name = "{name}"\nkind = "\w+"\nvalue = )"[^"]*"', rf'\1"{value}"', text)
    return text
