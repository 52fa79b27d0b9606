"""What is played in each wire log of `replay_logs/`, and what a skilled person would say of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from benchtui.sim.catalogue import make_fault
from benchtui.sim.demo_bench import demo_voices
from benchtui.sim.faults import Fault
from benchtui.sim.mains import STEPS_PER_S, MainsCharacter
from benchtui.sim.meters import Meter
from benchtui.sim.receiver import COLUMNS
from benchtui.sim.script import Act
from benchtui.sim.setup import Setup
from benchtui.sim.talker import Voice
from benchtui.sim.truth import Evidence, Label, labels_of

PACE = 0.4
"""The meters of the demo, read less often: a log of some minutes stays below half a megabyte."""
SETTLES = ("B+1", "B+2", "screen", "B+4", "V6 cathode")


@dataclass(frozen=True, slots=True)
class Scene:
    """One wire log."""

    name: str
    about: str
    duration_s: float
    script: tuple[Act, ...]
    faults: Callable[[], list[Fault]] = list
    seed: int = 10
    sags: tuple[tuple[float, float, float], ...] = ()
    sleeps: tuple[tuple[str, tuple[tuple[float, float], ...]], ...] = ()

    def voices(self) -> tuple[Voice, ...]:
        """The meters."""
        return demo_voices(PACE, dict(self.sleeps))

    def setup(self) -> Setup:
        """The set: three fifths of the usual spread between sets."""
        models = tuple(voice.model for voice in self.voices())
        mains = MainsCharacter(wander=0.004, sags=self.sags)
        return Setup(self.seed, "direct", mains, 0.6, models, self.script)


def _on_off(*times: float) -> tuple[Act, ...]:
    return tuple(Act(t, "off" if i % 2 else "on") for i, t in enumerate(times))


SCENES = (
    Scene(
        "healthy", "A healthy set: power on, one sag of the mains, power off, bleed-down.",
        240.0, _on_off(3.0, 200.0), sags=((130.0, 2.5, 0.06),),
    ),
    Scene(
        "pilot",
        "An aged pilot: lit by the overshoot, out as B+ settles, lit again at the next power-on, out again.",
        270.0, _on_off(3.0, 120.0, 160.0), lambda: [make_fault("pilot_aged", amount=55.0)],
    ),
    Scene(
        "regulator_taps",
        "A dry joint in the regulator's feed: opens as it warms, cools, closes; a tap closes it for a while.",
        300.0, (*_on_off(3.0), Act(97.0, "tap", "chassis, by V8"), Act(174.0, "tap", "chassis, by V8"),
                Act(238.0, "tap", "chassis, by V8")),
        lambda: [make_fault("regulator_joint", opens_at_c=38.5)],
    ),
    Scene(
        "sleeping_meter",
        "A healthy set; the meter on B+2 falls asleep while B+ settles and comes back, another one later.",
        260.0, _on_off(3.0), sleeps=(("B+2", ((14.0, 75.0),)), ("heater", ((150.0, 190.0),))),
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Expected:
    """One finding: how it may be called, where, and between which times it must begin."""

    kinds: tuple[str, ...]
    point: str | None
    begins: tuple[float, float]
    must: bool = True


def truth(scene: Scene) -> tuple[tuple[Label, ...], Evidence]:
    """What really happens in a scene."""
    setup = scene.setup()
    run, twin = setup.run(scene.faults()), setup.run(())
    for each in (run, twin):
        each.go_to(round(scene.duration_s * STEPS_PER_S))
    trace = run.trace()
    taken = [Meter(model, scene.seed).take(trace, 0, len(trace)) for model in setup.meters]
    evidence = Evidence(run, trace, twin.trace(), setup.meters, taken)
    return labels_of(evidence), evidence


def expected(scene: Scene) -> list[Expected]:
    """What must be found in a scene, in order of time. What is not listed must not be found.

    A reading comes up to its meter's period and averaging time late; a finding may begin at the last good
    reading before. `settled` may be told from when the point is within 4 % of where it stays to 90 s after.
    """
    labels, evidence = truth(scene)
    slack = {v.model.point: v.period_s + v.model.averages_s + 1.0 for v in scene.voices()}
    slack[""] = 3.0
    found = []
    for label in labels:
        late = slack[label.point or ""]
        begins = (round(max(0.0, label.start_s - late), 1), round(label.start_s + late, 1))
        # That the tube lacked current is read off its own point: to tell it beside the dropout is free.
        free = label.kind == "starved" and label.point == "regulator"
        found.append(Expected((label.kind, *label.or_kinds), label.point, begins, must=not free))
        if label.kind == "dropout" and label.point == "regulator":
            whole = (begins[0], round((label.end_s or evidence.duration_s) + late, 1))
            found.append(Expected(("outside",), label.point, whole, must=False))
    found += _settled(evidence)
    return sorted(found, key=lambda e: e.begins)


def _settled(evidence: Evidence) -> Iterator[Expected]:
    """When each point reaches where it stays, for the first run that is long enough."""
    switched = [t for t, _ in evidence.run.power]
    for on, off in zip(switched[::2], [*switched[1::2], evidence.duration_s], strict=False):
        for point in SETTLES:
            asleep = [s for m in evidence.meters if m.point == point for s in m.sleeps]
            course = evidence.healthy[
                round(on * STEPS_PER_S) : round(off * STEPS_PER_S), COLUMNS.index(point)
            ]
            course = course[: round(90 * STEPS_PER_S)]
            near = np.abs(course / course[-1] - 1)
            early, at = (on + float(np.flatnonzero(near > part)[-1]) / STEPS_PER_S for part in (0.04, 0.02))
            waits = max([at, *(b for a, b in asleep if a < at + 30)])
            yield Expected(("settled",), point, (round(early - 1, 1), round(waits + 90, 1)))


def as_toml(scene: Scene) -> str:
    """The expectations as the file beside the log has them."""
    lines = [
        f"# What must be found in {scene.name}.jsonl, and nothing else.",
        f"# {scene.about}",
        "# Drawn from what the simulated set did, not from what any program found.",
        "# kinds: any of them is right. begins_s: where start_s of the finding must lie. No point: null.",
        "# [[may]]: right if told, no miss if not. Any other finding but `settled` is a false alarm.",
    ]
    for each in expected(scene):
        lines += ["", "[[must]]" if each.must else "[[may]]"]
        lines.append("kinds = [" + ", ".join(f'"{kind}"' for kind in each.kinds) + "]")
        if each.point is not None:
            lines.append(f'point = "{each.point}"')
        lines.append(f"begins_s = [{each.begins[0]:g}, {each.begins[1]:g}]")
    return "\n".join(lines) + "\n"
