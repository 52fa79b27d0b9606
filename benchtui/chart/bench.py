"""The meters of a bench, as records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit


@dataclass(frozen=True, slots=True)
class SerialSettings:
    """How the line is set; None leaves the driver's own default."""

    baud: int | None = None
    bits: int | None = None
    parity: str | None = None
    """none, even, odd, mark, space."""
    stop: float | None = None
    dtr: bool | None = None
    rts: bool | None = None


@dataclass(frozen=True, slots=True)
class MeterEntry:
    """One `[[meter]]` of a bench file."""

    name: str
    driver: str
    """A name in the catalogue of drivers."""
    port: str
    """Device, by-id path, COM4, usb:VID:PID[:SERIAL][@LOCATION], socket://host:port, rfc2217://host:port."""
    measures: Unit = Unit.UNKNOWN
    """What it is set to measure, where its wire format does not say."""
    point: str | None = None
    """Where its lead is at the start."""
    accuracy: Accuracy | None = None
    input_resistance: float | None = None
    """Ohms."""
    resistance_by_range: tuple[tuple[float, float], ...] = ()
    """(full scale in volts, ohms), where it changes with the range; by rising full scale."""
    ohms_per_volt: float | None = None
    """A needle's: ohms for each volt of the range that it is on."""
    range: float | None = None
    """Full scale in volts of the range that it is left on, where its input resistance changes with it."""
    max_input: float | None = None
    """Volts; None where not told."""
    serial: SerialSettings = SerialSettings()
    options: Mapping[str, Any] = field(default_factory=dict)
    """Handed to the driver as they stand: its own keys, checked by it."""
    line: int | None = None

    def resistance_on(self, full_scale: float | None) -> float | None:
        """Ohms on the range with this full scale in volts; None where it is not told or the range matters.

        A range that the table does not name takes the resistance of the next larger one.
        """
        if self.input_resistance is not None:
            return self.input_resistance
        if full_scale is None:
            return None
        if self.ohms_per_volt is not None:
            return self.ohms_per_volt * full_scale
        return next((ohms for top, ohms in self.resistance_by_range if top >= full_scale), None)


@dataclass(frozen=True, slots=True)
class Bench:
    """The meters of one bench."""

    meters: tuple[MeterEntry, ...] = ()
    text: str = ""
    """The TOML it was read from, as written; a session carries it."""
