"""A simulated meter with a voice: bytes for its conversions, answers for questions. No cable, no clock."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.model.readings import Floats
from benchtui.model.units import Unit

from .asked import Scpi
from .metermodel import MeterModel
from .meters import Meter
from .speech import SPEECH, Shown


@dataclass(frozen=True, slots=True)
class Voice:
    """A meter of the demo bench: what it is, how it speaks, and how a bench file describes it."""

    model: MeterModel
    speaks: str
    """A key of speech.SPEECH, or scpi."""
    driver: str
    """The driver that understands it."""
    accuracy: str = ""
    """As the bench file writes it."""
    asked_every_s: float | None = None
    """How often the bench file has it asked; None for one that talks unasked."""

    @property
    def period_s(self) -> float:
        """From one reading on the wire to the next."""
        return 1.0 / self.model.rate if self.asked_every_s is None else self.asked_every_s


class Talker:
    """One speaking meter."""

    def __init__(self, voice: Voice, seed: int) -> None:
        self.voice = voice
        self.meter = Meter(voice.model, seed)
        self.asked = Scpi(voice.model.name, voice.model.unit) if voice.speaks == "scpi" else None

    def say(self, trace: Floats, first_step: int, upto_step: int) -> list[tuple[int, bytes]]:
        """(time in ns, bytes) of what it sends by itself up to this step, or owes an answer."""
        if self.asked is not None:
            self.meter.function = self.asked.unit
        taken = self.meter.take(trace, first_step, upto_step)
        said = []
        for row in range(len(taken)):
            value, places = float(taken.value[row]), int(taken.decimals[row])
            shown = Shown(value, places, int(taken.flags[row]), Unit(int(taken.unit[row])))
            data = self.asked.converted(shown) if self.asked is not None else SPEECH[self.voice.speaks](shown)
            if data:
                said.append((int(taken.t_ns[row]), data))
        return said

    def hear(self, data: bytes, now_s: float) -> bytes:
        """What the computer sent; gives what can be answered at once.

        A meter that only talks hears nothing, and none hears anything in its sleep.
        """
        asleep = any(start <= now_s < end for start, end in self.voice.model.sleeps)
        return b"" if self.asked is None or asleep or not data else self.asked.hear(data)
