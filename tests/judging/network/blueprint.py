"""What one family of sets gives: the circuit, its heaters, and where a probe can go."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .circuit import Circuit
from .heating import Heating

MAINS = "~mains"
HEATERS = "~heaters"


@dataclass(frozen=True, slots=True)
class Spot:
    """A test point."""

    name: str
    node: str
    """A node of the circuit; or MAINS, HEATERS, or the name of a tube that is watched by eye."""
    fed_from: str | None = None
    through: str | None = None
    """The resistor between them."""
    where: str = ""
    band: int = 12
    """Tolerance in per cent."""
    unit: str = "V"
    likely: float = 0.5
    """How often it is measured."""
    programme: bool = False
    bleeds: bool = False
    """The chart may say by when it has to be discharged."""
    tube: str | None = None
    """The regulator tube across it."""


@dataclass(slots=True)
class Blueprint:
    """A set of one family, with part values drawn."""

    family: str
    circuit: Circuit
    heating: Heating
    spots: list[Spot]
    lines: list[str] = field(default_factory=list)
    """Further lines of [set]."""
    mains: float = 230.0
    fuse: list[str] = field(default_factory=list)
    """Rectifiers behind the HT fuse."""
    reference: str = ""
    tail_s: float = 80.0
    carrier: str | None = None
    """The supply that stands for the signal behind the automatic volume control."""


class Draw:
    """Part values of a design, from one seed: the same for the printed set and the one on the bench."""

    def __init__(self, seed: list[int]) -> None:
        self.rng = np.random.default_rng(seed)

    def of(self, low: float, high: float) -> float:
        """A value between, rounded as values are printed."""
        return float(f"{self.rng.uniform(low, high):.2g}")

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def one(self, *choices: float) -> float:
        return float(choices[int(self.rng.integers(len(choices)))])
