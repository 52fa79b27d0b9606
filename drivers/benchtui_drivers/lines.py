"""Meters that send text lines: a number a line, a value with its unit, or as described in the bench file."""

from __future__ import annotations

from benchtui.driver.contract import Driver, DriverOptions, LineDefaults, Out
from benchtui.driver.framing import Junk, LineFramer
from benchtui.driver.grammar import read_line
from benchtui.model.notes import Trouble
from benchtui.model.readings import Readings


class LinesDriver:
    """First version: listens only, one line at a time."""

    channels: tuple[str, ...] = ("",)
    line = LineDefaults()

    def __init__(self, options: DriverOptions) -> None:
        self._measures = options.measures
        self._framer = LineFramer()
        self._junk = Junk()

    def start(self, at_ns: int) -> Out:
        self._framer.restart()
        return Out()

    def feed(self, data: bytes, at_ns: int) -> Out:
        got = self._framer.feed(data)
        rows: list[tuple[float, float, int, int]] = []
        troubles: list[Trouble] = []
        if not got.joined:
            self._junk.add(got.before)
        for line in got.lines():
            recipe = read_line(line, self._measures)
            if recipe is None:
                self._junk.add(line)
                continue
            if self._junk.count:
                text = f'{self._junk.count} bytes that are no reading, beginning "{self._junk.sample}"'
                troubles.append(Trouble(at_ns, "", "garbled", text, self._junk.count))
                self._junk.clear()
            rows.append((*recipe.read(line), int(recipe.unit), int(recipe.flags)))
        self._junk.add(got.after)
        if not rows:
            return Out(troubles=tuple(troubles))
        value, resolution, unit, flags = zip(*rows, strict=True)
        return Out(Readings.of([at_ns] * len(rows), 0, unit, value, resolution, flags), tuple(troubles))

    def tick(self, at_ns: int) -> Out:
        return Out()

    @property
    def wake_ns(self) -> int | None:
        return None


def open_driver(options: DriverOptions) -> Driver:
    """A driver for one meter that sends text lines."""
    return LinesDriver(options)
