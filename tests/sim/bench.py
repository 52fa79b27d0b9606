"""Short ways to the simulated set for its tests."""

from __future__ import annotations

from benchtui.model.readings import Floats
from benchtui.sim.mains import STEPS_PER_S, MainsCharacter
from benchtui.sim.parts import Parts
from benchtui.sim.receiver import COLUMNS, Receiver
from benchtui.sim.run import Run

STEADY = MainsCharacter(wander=0.0, flutter=0.0)
"""A mains that never moves."""


def nominal(rectifier: str = "direct", **parts: float) -> Receiver:
    """The nominal set on a steady mains, with some parts changed; not switched on."""
    given = Parts()
    for name, value in parts.items():
        assert hasattr(given, name), name
        setattr(given, name, value)
    return Receiver(0, rectifier, STEADY, parts=given)


def steps(receiver: Receiver, seconds: float) -> None:
    """Goes on by so many simulated seconds."""
    for _ in range(round(seconds * STEPS_PER_S)):
        receiver.step()


def column(receiver: Receiver, name: str) -> Floats:
    """What a point did, step by step."""
    values: Floats = Run(receiver).trace()[:, COLUMNS.index(name)]
    return values


def now(receiver: Receiver, name: str) -> float:
    """What a point stands at."""
    return receiver.rows[len(receiver.rows) - len(COLUMNS) + COLUMNS.index(name)]
