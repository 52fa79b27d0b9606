"""What loading costs: in a fresh interpreter, by the modules that it pulls in."""

from __future__ import annotations

import subprocess
import sys

import pytest

from .test_chart_file import SALTMARSH


def loaded_after(code: str) -> set[str]:
    """The modules that a fresh interpreter holds after this code."""
    done = subprocess.run(
        [sys.executable, "-c", code + "\nimport sys; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "module", ["chart", "settings", "chart_file", "settings_file", "quantity", "formula"]
)
def test_charts_and_settings_need_neither_pint_nor_numpy(module: str) -> None:
    """Records, readers and quantities load without a unit registry and without arrays."""
    assert not loaded_after(f"import benchtui.chart.{module}") & {"pint", "numpy"}


def test_a_bench_needs_no_pint() -> None:
    """Accuracies are the meters' own records, with numpy; units of the trade need no registry."""
    assert "pint" not in loaded_after("import benchtui.chart.bench_file")


def test_reading_a_whole_chart_needs_no_pint() -> None:
    """A chart in the trade's own units, formulas included, is read without loading the unit registry."""
    code = f"from benchtui.chart.chart_file import read_chart\nread_chart({SALTMARSH!r}, 'c')"

    assert not loaded_after(code) & {"pint", "numpy", "benchtui.sim"}


def test_an_unusual_unit_loads_it() -> None:
    """A unit that the trade seldom writes is what the registry is for."""
    code = "from benchtui.chart.quantity import parse_quantity\nparse_quantity('285 joule/coulomb')"

    assert "pint" in loaded_after(code)
