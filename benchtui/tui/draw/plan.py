"""Where things stand on a screen of a given size."""

from __future__ import annotations

from dataclasses import dataclass

from .looks import ASCII

LEAST_WIDTH, LEAST_HEIGHT = 80, 24
"""The smallest screen with block digits."""
BIG_WIDTH, BIG_HEIGHT = 200, 60
"""From here on, blocks are doubled."""
EVERY_ROW_FROM = 8
"""So many rows in the table stand on every row, fewer on every second one where there is room."""


@dataclass(frozen=True, slots=True)
class Blocks:
    """Sizes of the large points, plain or doubled."""

    slot: int
    """Columns of one point."""
    sign: int
    digits: int
    """Columns of sign and digits inside the slot."""
    across: int
    """Columns of one pixel."""
    gap: int
    needle: int
    """Width of the needle."""


PLAIN = Blocks(slot=40, sign=2, digits=12, across=1, gap=2, needle=36)
DOUBLED = Blocks(slot=66, sign=3, digits=18, across=2, gap=3, needle=62)


@dataclass(frozen=True, slots=True)
class Plot:
    """Where a strip chart stands."""

    title: int
    title_column: int
    top: int
    rows: int
    left: int
    width: int

    @property
    def marks(self) -> int:
        return self.top + self.rows

    @property
    def times(self) -> int:
        return self.top + self.rows + 1


@dataclass(frozen=True, slots=True)
class Plan:
    """The rows of the far view."""

    width: int
    height: int
    big: bool
    bar: int
    """Rows of a bar."""
    slots: int
    names: int
    digits: int
    needle: int
    table: int
    """First row of the table."""
    table_rows: int
    bottom: int
    """First row of the bottom bar."""
    blocks: Blocks
    plot: Plot | None

    @property
    def keys(self) -> int:
        return self.height - 1


def far_plan(width: int, height: int, glyphs: str) -> Plan:
    """The far view of a screen of at least 80x24."""
    if width >= BIG_WIDTH and height >= BIG_HEIGHT and glyphs != ASCII:
        return _big(width, height)
    letters = glyphs == ASCII
    bar = 5 if letters else 4
    roomy = height >= 36
    names = bar + roomy
    needle = names + 6 + roomy
    table = needle + (1 if letters else 2) + roomy
    bottom = height - 1 - bar
    chart = width >= 120 and bottom - table >= 9 and not letters
    plot = Plot(table - 1, 77, table, bottom - table - 3, 83, width - 85) if chart else None
    return Plan(
        width,
        height,
        big=False,
        bar=bar,
        slots=2 if width < 120 else min(width // PLAIN.slot, 5),
        names=names,
        digits=names + 1,
        needle=needle,
        table=table,
        table_rows=bottom - table - (0 if letters else 1),
        bottom=bottom,
        blocks=PLAIN,
        plot=plot,
    )


def _big(width: int, height: int) -> Plan:
    bottom = height - 8
    return Plan(
        width,
        height,
        big=True,
        bar=7,
        slots=min(width // DOUBLED.slot, 5),
        names=8,
        digits=12,
        needle=23,
        table=28,
        table_rows=bottom - 29,
        bottom=bottom,
        blocks=DOUBLED,
        plot=Plot(27, 100, 28, bottom - 32, 105, width - 107),
    )


@dataclass(frozen=True, slots=True)
class NearPlan:
    """The rows of the near view."""

    width: int
    height: int
    points: int
    """Rows for points, from row 2."""
    plot: Plot
    findings: int
    """First row of the list of findings."""
    finding_rows: int

    @property
    def keys(self) -> int:
        return self.height - 1


def near_plan(width: int, height: int, points: int) -> NearPlan:
    """The near view of a screen of at least 80x24, for so many points."""
    roomy = height >= 36
    finding_rows = 3 if not roomy else (5 if height < 50 else 8)
    least_plot = 8 if roomy else 5
    left = height - 8 - roomy - finding_rows
    shown = max(min(points, left - least_plot), 1)
    rows = left - shown
    plot = Plot(shown + 3, 1, shown + 4, rows, 6, width - 7)
    return NearPlan(width, height, shown, plot, plot.times + 1 + roomy, finding_rows)
