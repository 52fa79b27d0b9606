"""Right charts with random values: what is written is what is read, to the last digit."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.chart.chart_file import read_chart
from benchtui.chart.quantity import write_quantity
from benchtui.model.units import Unit


@dataclass(frozen=True)
class Written:
    """One point as it will be written."""

    name: str
    unit: Unit
    nominal: Decimal
    down: Decimal
    up: Decimal
    feed: int | None
    ohms: Decimal

    def toml(self, names: list[str]) -> str:
        lines = [
            "[[point]]",
            f'name = "{self.name}"',
            f'nominal = "{write_quantity(self.nominal, self.unit)}"',
            f'tolerance = "+{self.up} % -{self.down} %"',
        ]
        if self.feed is not None:
            lines += [
                f'fed_from = "{names[self.feed]}"',
                f'through = "{write_quantity(self.ohms, Unit.OHM)}"',
            ]
        return "\n".join(lines) + "\n"


@st.composite
def charts(draw: st.DrawFn) -> list[Written]:
    """Points that feed each other only downwards, DC from DC and AC from AC."""
    number = st.decimals("0.01", "999", places=2)
    points: list[Written] = []
    for n in range(draw(st.integers(1, 6))):
        unit = draw(st.sampled_from([Unit.V, Unit.VAC]))
        same = [i for i, p in enumerate(points) if p.unit is unit]
        sign = draw(st.sampled_from([1, -1])) if unit is Unit.V else 1
        points.append(
            Written(
                name=f"P{n}",
                unit=unit,
                nominal=sign * draw(number),
                down=draw(st.decimals("0.1", "50", places=1)),
                up=draw(st.decimals("0", "80", places=1)),
                feed=draw(st.sampled_from([None, *same])),
                ohms=draw(number) * 10 ** draw(st.integers(0, 6)),
            )
        )
    return points


@given(charts())
@settings(max_examples=300, deadline=None)
def test_what_is_written_is_what_is_read(written: list[Written]) -> None:
    """Names, units, nominals, bands and feeds of a right chart are read exactly, and their lines too."""
    names = [w.name for w in written]
    text = '[set]\nname = "x"\n' + "".join(w.toml(names) for w in written)
    points = read_chart(text, "c").points
    lines = text.split("\n")

    assert [p.name for p in points] == names
    for w, p in zip(written, points, strict=True):
        ends = sorted([w.nominal * (1 - w.down / 100), w.nominal * (1 + w.up / 100)])
        assert (p.unit, p.nominal) == (w.unit, float(w.nominal))
        assert (p.low, p.high) == (float(ends[0]), float(ends[1]))
        assert p.fed_from == (None if w.feed is None else names[w.feed])
        assert p.through == (None if w.feed is None else float(w.ohms))
        assert p.line is not None
        assert lines[p.line - 1] == "[[point]]"
        assert lines[p.line] == f'name = "{p.name}"'
