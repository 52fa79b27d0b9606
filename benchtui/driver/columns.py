"""Many text lines into columns at once: recipes by shape, and the quickest way for each block."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import NO_VALUE, Flag, Floats, Ints

from .alike import Alike
from .framing import LONGEST
from .gathered import Bytes, read_alike
from .recipe import NOT_A_NUMBER, OVER, Recipe

_EMPTY, _JUNK, _BY_LINE = 0, 1, 2
_FIRST_RECIPE = 3
_MOST_SHAPES = 256
_ONE_BY_ONE = 4
"""Up to so many lines, nothing is worth its own cost."""
_FEW = 32
"""Up to so many lines of different kinds are read one by one: numpy's own cost is not worth it."""
_MANY_ALIKE = 800
"""From so many lines of one kind on, numpy is the quicker."""
_FEW_ALIKE = 8
_NONE = int(NO_VALUE)
"""As a plain number: an `IntFlag` costs numpy more than a block of readings does."""
_SHAPE = bytes(0x30 if 0x31 <= n <= 0x39 else n for n in range(256))


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """What a block of lines said."""

    line: Ints
    """Of each reading: which line of the block it was, rising."""
    value: Floats
    resolution: Floats
    unit: Bytes
    flags: Bytes
    junk: tuple[int, ...]
    """The lines that are no readings, rising. Empty lines are neither."""


class LineReader:
    """Reads blocks of lines by `read`, which says how one line is read, or None for one that is no reading.

    `read` must treat all digits alike, except in lines that hold one of `literal`; or nowhere, if `by_shape`
    is False: then each line is read by itself. Memory is bounded. Any cut into blocks gives the same rows.
    """

    def __init__(
        self,
        read: Callable[[bytes], Recipe | None],
        *,
        literal: Collection[str] = (),
        by_shape: bool = True,
        resolution: float | None = None,
    ) -> None:
        """`resolution`, in SI units, replaces what the digits say."""
        self._read = read
        self._resolution = resolution
        self._by_shape = by_shape
        with_digits = (w for w in literal if any(c.isdigit() for c in w))
        self._literal = tuple(w.encode().translate(_SHAPE).upper() for w in with_digits)
        self._shapes = _Shapes(self._learnt)
        self._recipes: list[tuple[Recipe, int, int]] = []
        self._alike = Alike()

    def rows(self, block: bytes) -> Rows:
        """The readings of a block: lines joined by LF."""
        if len(self._shapes) > _MOST_SHAPES:
            self._shapes.clear()
            self._recipes.clear()
            self._alike.clear()
        shapes = block.translate(_SHAPE).split(b"\n")
        if _ONE_BY_ONE < len(shapes) < _MANY_ALIKE:
            alike = self._alike_rows(block, shapes)
            if alike is not None:
                return alike
        if len(shapes) <= _FEW:
            return self._few(block.split(b"\n"), shapes)
        return self._many(block, np.fromiter(map(self._shapes.__getitem__, shapes), np.int64, len(shapes)))

    def _alike_rows(self, block: bytes, shapes: list[bytes]) -> Rows | None:
        """All at once; None unless the lines differ in their numbers alone."""
        found = self._alike.read(block, shapes)
        if found is None:
            return None
        around, value, resolution = found
        n = len(value)
        unit, flags = np.empty(n, np.uint8), np.empty(n, np.uint8)
        unit.fill(around.unit)
        flags.fill(around.flags)
        return self._finished(np.arange(n), value, resolution, unit, flags, ())

    def _few(self, lines: list[bytes], shapes: list[bytes]) -> Rows:
        """Line by line."""
        rows: list[tuple[int, float, float, int, int]] = []
        junk: list[int] = []
        for at, (line, shape) in enumerate(zip(lines, shapes, strict=True)):
            number = self._shapes[shape]
            if number == _EMPTY:
                continue
            if number >= _FIRST_RECIPE:
                recipe, unit_, flags_ = self._recipes[number - _FIRST_RECIPE]
                rows.append((at, *recipe.read(line), unit_, flags_))
                continue
            found = self._read(line) if number == _BY_LINE else None
            if found is None:
                junk.append(at)
            else:
                rows.append((at, *found.read(line), int(found.unit), int(found.flags)))
        if not rows:
            return _no_rows(tuple(junk))
        at_, value, resolution, unit, flags = zip(*rows, strict=True)
        return self._finished(
            np.array(at_, np.int64),
            np.array(value, np.float64),
            np.array(resolution, np.float64),
            np.array(unit, np.uint8),
            np.array(flags, np.uint8),
            tuple(junk),
        )

    def _many(self, block: bytes, numbers: Ints) -> Rows:
        """Shape by shape."""
        raw = np.frombuffer(block, np.uint8)
        ends = np.append(np.flatnonzero(raw == 0x0A), len(raw))
        starts = np.concatenate([[0], ends[:-1] + 1])
        n = len(numbers)
        value, resolution = np.empty(n), np.empty(n)
        unit, flags = np.zeros(n, np.uint8), np.zeros(n, np.uint8)
        is_row = numbers >= _FIRST_RECIPE
        junk = np.flatnonzero(numbers == _JUNK).tolist()
        for number in np.flatnonzero(np.bincount(numbers)).tolist():
            if number < _BY_LINE:
                continue
            at = np.flatnonzero(numbers == number)
            if number == _BY_LINE:
                for i in at.tolist():
                    line = block[starts[i] : ends[i]]
                    recipe = self._read(line)
                    if recipe is None:
                        junk.append(i)
                    else:
                        value[i], resolution[i] = recipe.read(line)
                        unit[i], flags[i], is_row[i] = recipe.unit, recipe.flags, True
                continue
            alike, *unit_flags = self._recipes[number - _FIRST_RECIPE]
            rows = slice(None) if len(at) == n else at
            if len(at) <= _FEW_ALIKE:
                for i in at.tolist():
                    value[i], resolution[i] = alike.read(block[starts[i] : ends[i]])
            else:
                value[rows], resolution[rows] = read_alike(raw, starts[rows], alike)
            unit[rows], flags[rows] = unit_flags
        junk.sort()
        if is_row.all():
            return self._finished(np.arange(n), value, resolution, unit, flags, tuple(junk))
        line_numbers = np.flatnonzero(is_row)
        return self._finished(
            line_numbers, value[is_row], resolution[is_row], unit[is_row], flags[is_row], tuple(junk)
        )

    def _finished(
        self, line: Ints, value: Floats, resolution: Floats, unit: Bytes, flags: Bytes, junk: tuple[int, ...]
    ) -> Rows:
        """With SCPI's special numbers turned into flags, and the resolution as the bench file has it."""
        if len(value) and not float(np.abs(value).max()) < OVER:  # or not a number
            over = np.abs(value) >= OVER
            invalid = np.abs(value) == NOT_A_NUMBER
            flags[over & ~invalid] |= np.uint8(Flag.OVERLOAD)
            flags[invalid] |= np.uint8(Flag.INVALID)
        if int(np.bitwise_or.reduce(flags)) & _NONE:
            none = (flags & _NONE) != 0
            value[none] = np.nan
            resolution[none] = 0.0
        if self._resolution is not None:
            resolution = np.full(len(line), self._resolution)
        return Rows(line, value, resolution, unit, flags, junk)

    def _learnt(self, shape: bytes) -> int:
        """The number for a shape not seen before."""
        if not shape.strip():
            return _EMPTY
        if len(shape) > LONGEST:
            return _JUNK
        upper = shape.upper()
        if not self._by_shape or any(word in upper for word in self._literal):
            return _BY_LINE
        recipe = self._read(shape)
        if recipe is None:
            return _JUNK
        self._alike.learn(shape, recipe)
        self._recipes.append((recipe, int(recipe.unit), int(recipe.flags)))
        return _FIRST_RECIPE + len(self._recipes) - 1


class _Shapes(dict[bytes, int]):
    """Shape -> its number, learnt at first sight; shapes too long or too many are learnt again each time."""

    def __init__(self, learn: Callable[[bytes], int]) -> None:
        super().__init__()
        self._learn = learn

    def __missing__(self, shape: bytes) -> int:
        number = self._learn(shape)
        if len(shape) <= LONGEST:
            self[shape] = number
        return number


def _no_rows(junk: tuple[int, ...]) -> Rows:
    none = np.empty(0, np.uint8)
    return Rows(np.empty(0, np.int64), np.empty(0), np.empty(0), none, none, junk)
