"""One meter, heard: a driver whose every answer is checked, named and placed in the session's channels.

A live link and a played wire log both hear through this, so that both hear the same.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from benchtui.model.notes import TROUBLE_KINDS, Trouble, plain
from benchtui.model.readings import NO_VALUE, Flag, Readings
from benchtui.model.units import Unit

from .catalogue import open_driver
from .contract import Driver, DriverOptions, Out
from .description import MeterDescription

_NOTHING = Out()


class Listener:
    """Runs one driver. Never raises: a driver that fails ends its channels with one Trouble.

    Every reading and trouble it gives carries the instant of the call, so none can fall behind a watermark.
    """

    def __init__(self, driver: Driver, description: MeterDescription) -> None:
        self.description = description
        self.driver = driver
        self.line = driver.line
        self.ended = False
        """True once the driver has failed; from then on it is not called any more."""
        self._channels = np.asarray(description.channels, dtype=np.int16)
        self._away = False

    @staticmethod
    def of(description: MeterDescription) -> Listener:
        """With a fresh driver from the catalogue.

        Raises:
            DriverError: there is no such driver, or an option is wrong.
        """
        options = DriverOptions(description.name, description.measures, description.options)
        return Listener(open_driver(description.driver, options), description)

    @property
    def wake_ns(self) -> int | None:
        """When a tick is due; None if the driver only listens, or has ended."""
        if self.ended:
            return None
        try:
            wake = self.driver.wake_ns
            return None if wake is None else int(wake)
        except Exception:  # found out again, and told, at the next call
            return None

    def start(self, at_ns: int) -> Out:
        """The port is open (again): tells `back` if it had been lost."""
        out = self._run(at_ns, lambda: self.driver.start(at_ns))
        if self._away:
            self._away = False
            back = Trouble(at_ns, self.description.name, "back", "the port is back")
            out = replace(out, troubles=(back, *out.troubles))
        return out

    def feed(self, data: bytes, at_ns: int) -> Out:
        """Bytes read at this instant."""
        return self._run(at_ns, lambda: self.driver.feed(data, at_ns))

    def tick(self, at_ns: int) -> Out:
        """A due tick."""
        return self._run(at_ns, lambda: self.driver.tick(at_ns))

    def lost(self, at_ns: int, reason: str) -> Out:
        """The port is gone, or could not be opened at first; told once until it is back."""
        if self._away:
            return _NOTHING
        self._away = True
        return Out(troubles=(Trouble(at_ns, self.description.name, "lost", plain(reason)),))

    def _run(self, at_ns: int, call: Callable[[], Out]) -> Out:
        if self.ended:
            return _NOTHING
        try:
            return self._checked(call(), at_ns)
        except Exception as error:  # any code may stand behind the door; its failure is one meter's
            self.ended = True
            text = f"the driver {self.description.driver} failed: {type(error).__name__}: {error}"
            return Out(troubles=(Trouble(at_ns, self.description.name, "driver", plain(text)),))

    def _checked(self, out: Out, at_ns: int) -> Out:
        """The driver's answer, held to the contract and put into the session's channels."""
        name = self.description.name
        readings = self._placed(out.readings, at_ns) if len(out.readings) else _NOTHING.readings
        troubles = tuple(
            Trouble(at_ns, name, _known(t.kind), plain(t.text), int(t.count)) for t in out.troubles
        )
        identity = plain(out.identity, 120) if out.identity else ""
        return Out(readings, troubles, bytes(out.send), identity, int(out.skipped))

    def _placed(self, r: Readings, at_ns: int) -> Readings:
        n = len(r.t_ns)
        if any(len(column) != n for column in (r.channel, r.unit, r.value, r.resolution, r.flags)):
            raise ValueError("the columns of its readings differ in length")
        if r.channel.min() < 0 or r.channel.max() >= len(self._channels):
            raise ValueError("it gave a reading for a channel that it has not named")
        if r.unit.max() > max(Unit):
            raise ValueError("it gave a unit that does not exist")
        value, flags = np.asarray(r.value, np.float64), np.asarray(r.flags, np.uint8)
        no_value = (flags & np.uint8(NO_VALUE)) != 0
        stray = ~np.isfinite(value) & ~no_value
        if stray.any():
            flags = np.where(stray, flags | np.uint8(Flag.INVALID), flags)
            no_value |= stray
        if no_value.any():
            value = np.where(no_value, np.nan, value)
        return Readings(
            np.full(n, at_ns, np.int64), self._channels[r.channel], np.asarray(r.unit, np.uint8),
            value, np.asarray(r.resolution, np.float64), flags,
        )  # fmt: skip


def _known(kind: str) -> str:
    if kind not in TROUBLE_KINDS:
        raise ValueError("it told a trouble of a kind that does not exist")
    return kind
