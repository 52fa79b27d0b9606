"""A meter as a session resolves it: enough to open its driver again and hear the same."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from benchtui.model.errors import DriverError
from benchtui.model.units import BY_SYMBOL, Unit


@dataclass(frozen=True, slots=True)
class MeterDescription:
    """One meter of a session, resolved: which driver, which options, which channels of the session."""

    name: str
    driver: str
    measures: Unit = Unit.UNKNOWN
    options: Mapping[str, Any] = field(default_factory=dict)
    port: str = ""
    """As the bench wrote it; a log is played without it."""
    channels: tuple[int, ...] = (0,)
    """The session's channel number of each of the driver's channels, in the driver's order."""

    def as_json(self) -> dict[str, Any]:
        """Plain JSON values."""
        return {
            "name": self.name,
            "driver": self.driver,
            "measures": self.measures.symbol,
            "options": dict(self.options),
            "port": self.port,
            "channels": list(self.channels),
        }

    @staticmethod
    def from_json(given: Mapping[str, Any]) -> MeterDescription:
        """What `as_json` wrote.

        Raises:
            DriverError: a key is missing or of the wrong kind.
        """
        try:
            symbol = str(given["measures"])
            return MeterDescription(
                name=str(given["name"]),
                driver=str(given["driver"]),
                measures=BY_SYMBOL[symbol] if symbol else Unit.UNKNOWN,
                options=dict(given["options"]),
                port=str(given["port"]),
                channels=tuple(int(c) for c in given["channels"]),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise DriverError(f"the description of a meter is damaged: {error!r}") from error
