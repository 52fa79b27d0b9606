"""Lines in which the same bytes stand around every number: cut at those bytes, read by `float`.

It is what nearly every meter sends nearly always, and for a handful of lines the quickest way to read them:
without numpy's cost for each block, or a recipe's for each line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import NO_VALUE, Floats

from .recipe import Recipe, one_count


@dataclass(frozen=True, slots=True)
class Around:
    """What such lines have in common."""

    before: bytes
    after: bytes
    unit: int
    flags: int
    shift: int
    flip: bool

    def texts(self, block: bytes) -> list[bytes]:
        """The numbers of a block whose lines are all so, each as `float` reads it."""
        inner = block[len(self.before) : len(block) - len(self.after)]
        between = self.after + b"\n" + self.before
        if not self.shift:
            return inner.split(between)
        end = b"e%d" % self.shift
        return (inner.replace(between, end + b"\n") + end).split(b"\n")


class Alike:
    """Knows the shapes of such lines, and reads blocks that hold nothing else."""

    def __init__(self) -> None:
        self._around: dict[bytes, Around] = {}
        """Of each shape. Equal ones are the same object."""
        self._count: dict[bytes, float] = {}
        """The resolution of each shape without an exponent."""
        self._exponent: dict[bytes, tuple[slice, int]] = {}
        """Of each shape with one: where it stands, and the power of ten of one count without it."""

    def clear(self) -> None:
        """Forgets all shapes."""
        self._around.clear()
        self._count.clear()
        self._exponent.clear()

    def learn(self, shape: bytes, recipe: Recipe) -> None:
        """Keeps this shape if its lines can be read so."""
        around = _around(shape, recipe)
        if around is None:
            return
        known = (a for a in self._around.values() if a == around)
        self._around[shape] = next(known, around)
        power = recipe.shift - recipe.part
        if recipe.exponent_digits:
            start = shape.upper().index(b"E", recipe.span[0]) + 1
            self._exponent[shape] = slice(start, recipe.span[1]), power
        else:
            self._count[shape] = one_count(power)

    def read(self, block: bytes, shapes: list[bytes]) -> tuple[Around, Floats, Floats] | None:
        """What is around, values and resolutions; None if some line of the block is not like the others.

        Values are what `float` makes of them: special numbers are not told from others.
        """
        kinds = set(shapes)
        one = kinds.pop()
        around = self._around.get(one)
        if around is None or any(self._around.get(kind) is not around for kind in kinds):
            return None
        n = len(shapes)
        if kinds:
            if any(kind in self._exponent for kind in (one, *kinds)):
                return None
            resolution = np.fromiter(map(self._count.__getitem__, shapes), np.float64, n)
        else:
            resolution = np.empty(n)
            if one in self._exponent:
                resolution[:] = self._by_exponent(block, one)
            else:
                resolution.fill(self._count[one])
        value = np.fromiter(map(float, around.texts(block)), np.float64, n)
        return around, -value if around.flip else value, resolution

    def _by_exponent(self, block: bytes, shape: bytes) -> float | list[float]:
        """The resolutions of lines of this shape: mostly all the same."""
        place, power = self._exponent[shape]
        step = len(shape) + 1
        columns = [block[n::step] for n in range(place.start, place.stop)]
        if all(column.count(column[:1]) == len(column) for column in columns):
            return one_count(int(block[place]) + power)
        texts = [block[n + place.start : n + place.stop] for n in range(0, len(block), step)]
        counts = {text: one_count(int(text) + power) for text in set(texts)}
        return [counts[text] for text in texts]


def _around(line: bytes, recipe: Recipe) -> Around | None:
    """What stands around the number of a line; None if the lines of this shape are not to be read so."""
    start, end = recipe.span
    before, number, after = line[:start], line[start:end], line[end:]
    if not recipe.digits or recipe.flags & NO_VALUE or len(number.split()) != 1:
        return None
    if any(0x30 <= byte <= 0x39 for byte in before + after):
        return None  # another digit may stand there in the next line
    if recipe.shift and recipe.exponent_digits:
        return None
    if not recipe.shift:  # blanks that fill a column up
        before, after = before.rstrip(b" "), after.lstrip(b" ")
    return Around(before, after, int(recipe.unit), recipe.flags, recipe.shift, recipe.flip)
