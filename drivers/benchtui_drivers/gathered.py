"""What a driver that asks has to tell, gathered until its call ends."""

from __future__ import annotations

from collections.abc import Iterable

from benchtui.driver.contract import Out
from benchtui.model.notes import Trouble
from benchtui.model.readings import Readings
from benchtui.model.units import Unit

_AGAIN_NS = 60_000_000_000
_MOST_KEPT = 64


class Gathered:
    """Readings, troubles, identity and bytes thrown away."""

    def __init__(self) -> None:
        self.skipped = 0
        self.identity = ""
        self._troubles: list[Trouble] = []
        self._rows: list[tuple[int, Unit, float, float, int]] = []
        self._told: dict[str, int] = {}

    def troubles(self, troubles: Iterable[Trouble]) -> None:
        """These too."""
        self._troubles += troubles

    def reading(self, channel: int, unit: Unit, value: float, resolution: float, flags: int) -> None:
        """A row."""
        self._rows.append((channel, unit, value, resolution, flags))

    def tell(self, text: str, at_ns: int) -> None:
        """What the meter does, for a person."""
        self._troubles.append(Trouble(at_ns, "", "driver", text))

    def tell_once(self, text: str, at_ns: int) -> None:
        """Once a minute for the same text."""
        told = self._told.get(text)
        if told is not None and at_ns - told < _AGAIN_NS:
            return
        if len(self._told) >= _MOST_KEPT:
            self._told.clear()
        self._told[text] = at_ns
        self.tell(text, at_ns)

    def out(self, at_ns: int, send: bytes = b"") -> Out:
        """Everything since the last call."""
        out = Out(self._readings(at_ns), tuple(self._troubles), send, self.identity, self.skipped)
        self._rows.clear()
        self._troubles.clear()
        self.identity, self.skipped = "", 0
        return out

    def _readings(self, at_ns: int) -> Readings:
        if not self._rows:
            return Readings.empty()
        channel, unit, value, resolution, flags = zip(*self._rows, strict=True)
        return Readings.of([at_ns] * len(channel), channel, [int(u) for u in unit], value, resolution, flags)
