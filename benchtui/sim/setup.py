"""Everything that makes a simulated set what it is, so that the very same set can be run again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from benchtui.model.readings import Floats

from .faults import Fault
from .mains import STEPS_PER_S, MainsCharacter
from .metermodel import MeterModel
from .parts import parts_of
from .receiver import Receiver
from .run import Run
from .script import Act


@dataclass(frozen=True, slots=True)
class Setup:
    """One set with its mains, its meters and its script. Equal setups give equal runs, to the last bit."""

    seed: int = 0
    rectifier: str = "direct"
    mains: MainsCharacter = field(default_factory=MainsCharacter)
    spread: float = 1.0
    """How much sets differ from each other; 0: the nominal set."""
    meters: tuple[MeterModel, ...] = ()
    script: tuple[Act, ...] = ()

    def run(self, faults: Sequence[Fault]) -> Run:
        """A fresh run with these faults, each fitted to this set first."""
        for fault in faults:
            fault.fit(self._trial)
        return self._fresh(faults)

    def _fresh(self, faults: Sequence[Fault]) -> Run:
        receiver = Receiver(self.seed, self.rectifier, self.mains, parts=parts_of(self.seed, self.spread))
        for model in self.meters:
            receiver.load[model.point] += model.siemens
        return Run(receiver, faults, self.script)

    def _trial(self, fault: Fault, until_s: float) -> Floats:
        run = self._fresh([fault])
        run.go_to(round(until_s * STEPS_PER_S))
        return run.trace()
