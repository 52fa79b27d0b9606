"""Readings in columns, and the channels they come from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntFlag
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Ints: TypeAlias = NDArray[np.int64]
Floats: TypeAlias = NDArray[np.float64]
Bools: TypeAlias = NDArray[np.bool_]


class Flag(IntFlag):
    """What a reading says besides its value. The numbers are stored: never renumber."""

    OVERLOAD = 1
    """Over range or open; there is no value."""
    HOLD = 2
    """The meter repeats an old reading on purpose."""
    LOW_BATTERY = 4
    INVALID = 8
    """The meter itself says that this is not a number; there is no value."""


NO_VALUE = Flag.OVERLOAD | Flag.INVALID
"""Flags that say there is no value: the value column holds NaN there and must not be used."""


@dataclass(frozen=True, slots=True)
class Accuracy:
    """A meter's stated accuracy: +-(part of reading + counts of the last digit + part of full scale)."""

    of_reading: float = 0.0
    counts: float = 0.0
    of_full_scale: float = 0.0

    def bound(self, value: float, resolution: float, full_scale: float = 0.0) -> float:
        """The greatest error of a reading, in its unit.

        Gives of_reading*|value| + counts*resolution + of_full_scale*full_scale, as data sheets state it.
        """
        return self.of_reading * abs(value) + self.counts * resolution + self.of_full_scale * full_scale


@dataclass(frozen=True, slots=True)
class Channel:
    """One quantity that a meter streams; its number in the session is its place in the channel table."""

    name: str
    """Unique in a bench: the meter's name, or `meter:function` where a meter streams several."""
    meter: str
    accuracy: Accuracy | None = None
    """None where it is unknown."""
    input_resistance: float | None = None
    """Ohms; None where it is unknown."""
    eye: bool = False
    """True for a channel fed by the technician's eye and one key."""


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Readings in columns, one row a reading; all columns of one length.

    Where `flags` has a bit of NO_VALUE, `value` is NaN and is not to be used.
    """

    t_ns: Ints
    """Nanoseconds since the session began."""
    channel: NDArray[np.int16]
    """Place in the channel table (in a driver: in the driver's own list of channels)."""
    unit: NDArray[np.uint8]
    """A `Unit`: what the meter says it measured, or what it is known to measure."""
    value: Floats
    """In SI units."""
    resolution: Floats
    """One count of the last digit, in SI units; 0 where unknown."""
    flags: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.t_ns)

    def take(self, rows: NDArray[np.generic] | slice) -> Readings:
        """The rows that a mask, an index array or a slice names."""
        return Readings(
            self.t_ns[rows], self.channel[rows], self.unit[rows],
            self.value[rows], self.resolution[rows], self.flags[rows],
        )  # fmt: skip

    def by_channel(self) -> dict[int, Readings]:
        """The rows of each channel that has any, in the order they stand in."""
        sorted_rows = self.take(np.argsort(self.channel, kind="stable"))
        column = sorted_rows.channel
        edges = [0, *((column[1:] != column[:-1]).nonzero()[0] + 1).tolist(), len(column)]
        spans = pairwise(edges) if len(column) else ()
        return {int(column[a]): sorted_rows.take(slice(a, b)) for a, b in spans}

    def in_order(self) -> Readings:
        """Sorted by (time, channel), rows of equal keys in the order they came."""
        order = np.lexsort((self.channel, self.t_ns))
        if len(order) and (order[1:] > order[:-1]).all():
            return self
        return self.take(order)

    @staticmethod
    def of(
        t_ns: Sequence[int] | Ints,
        channel: Sequence[int] | NDArray[np.generic] | int,
        unit: Sequence[int] | NDArray[np.generic] | int,
        value: Sequence[float] | Floats,
        resolution: Sequence[float] | Floats | float = 0.0,
        flags: Sequence[int] | NDArray[np.generic] | int = 0,
    ) -> Readings:
        """Columns from sequences; a single number stands for a whole column."""
        n = len(t_ns)

        def column(given: object, kind: type[np.generic]) -> NDArray[np.generic]:
            array = np.asarray(given, dtype=kind)
            return np.broadcast_to(array, (n,)).copy() if array.ndim == 0 else array

        return Readings(
            np.asarray(t_ns, dtype=np.int64),
            column(channel, np.int16),  # type: ignore[arg-type]
            column(unit, np.uint8),  # type: ignore[arg-type]
            np.asarray(value, dtype=np.float64),
            column(resolution, np.float64),  # type: ignore[arg-type]
            column(flags, np.uint8),  # type: ignore[arg-type]
        )

    @staticmethod
    def empty() -> Readings:
        """No rows; made without the cost of `of`, for every piece of bytes that completes nothing."""
        small, floats = np.empty(0, np.uint8), np.empty(0)
        return Readings(np.empty(0, np.int64), np.empty(0, np.int16), small, floats, floats, small)

    @staticmethod
    def joined(parts: Sequence[Readings]) -> Readings:
        """All rows of all parts, one part after the other."""
        if not parts:
            return Readings.empty()
        if len(parts) == 1:
            return parts[0]
        return Readings(
            np.concatenate([p.t_ns for p in parts]),
            np.concatenate([p.channel for p in parts]),
            np.concatenate([p.unit for p in parts]),
            np.concatenate([p.value for p in parts]),
            np.concatenate([p.resolution for p in parts]),
            np.concatenate([p.flags for p in parts]),
        )
