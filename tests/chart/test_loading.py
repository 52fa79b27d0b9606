"""What a meter does to the voltage it measures, against published examples."""

from __future__ import annotations

import pytest

from benchtui.chart.loading import loaded, unloaded
from benchtui.chart.phrases import parse_load


def test_the_course_text_example() -> None:
    """Electronics course text: 30 V over two 400 k, 20 kohm/V on its 20 V range reads 10 where 15 is true."""
    meter = parse_load("20 kohm/V").on_range(20)
    assert meter == 400_000
    source = 400_000 / 2

    assert loaded(15, source, meter) == pytest.approx(10)
    assert unloaded(10, source, meter) == pytest.approx(15)


@pytest.mark.parametrize(("meter", "reads"), [(1e6, 3.997), (10e3, 3.75), (667.0, 2.00)])
def test_the_textbook_divider(meter: float, reads: float) -> None:
    """Textbook example: 6 V, 1 k over 2 k, three meters."""
    source = 1e3 * 2e3 / 3e3

    assert loaded(4.0, source, meter) == pytest.approx(reads, abs=0.005)


def test_the_textbook_very_high_resistance() -> None:
    """Textbook example: 24 V over two 250 M, a 10 M meter reads .8889 V."""
    assert loaded(12.0, 125e6, 10e6) == pytest.approx(0.8889, abs=5e-5)
