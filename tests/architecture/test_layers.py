"""The one straight path, as rules that a machine checks: who may import whom, what the core never loads."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PURE = ("model", "stats", "chart", "driver", "watch")
IMPURE = {"sqlite3", "serial", "textual", "socket", "ssl", "asyncio", "platformdirs"}
KIT = ("benchtui.driver.kit", "benchtui.driver.purity")
"""The contract kit watches drivers in tests; the program never loads it."""
HEAVY = {"numpy", "scipy", "pint", "textual", "serial", "sqlite3", "asyncio"}


def fresh(code: str) -> set[str]:
    """The modules that this code loads in an interpreter of its own, beyond numpy and the entry points."""
    program = (
        "import sys, numpy, numpy.lib.stride_tricks, importlib.metadata\n"
        f"before = set(sys.modules)\n{code}\nprint(*sorted(set(sys.modules) - before))\n"
    )
    return loaded(program)


def run(program: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", program]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)


def loaded(program: str) -> set[str]:
    done = run(program)
    assert done.returncode == 0, done.stderr
    return {name.partition(".")[0] for name in done.stdout.split()}


def modules(folder: Path, package: str) -> list[str]:
    """Every module of a package, by its full name."""
    names = []
    for path in sorted(folder.rglob("*.py")):
        parts = path.relative_to(folder).with_suffix("").parts
        names.append(".".join([package, *(part for part in parts if part != "__init__")]))
    return [name for name in names if name not in KIT]


def test_the_import_contracts_hold() -> None:
    """Layers, purity, and drivers that see only their contract: as written in pyproject.toml."""
    code = "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(no_cache=True))"
    done = run(code)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("package", PURE)
def test_a_pure_package_loads_nothing_that_touches_the_world(package: str) -> None:
    """No database, port, screen or network comes with any module of it, in a fresh interpreter."""
    names = modules(ROOT / "benchtui" / package, f"benchtui.{package}")
    assert len(names) > 1
    assert not fresh("\n".join(f"import {name}" for name in names)) & IMPURE


def test_the_drivers_load_nothing_that_touches_the_world() -> None:
    """A driver knows one wire format, and no port."""
    names = modules(ROOT / "drivers" / "benchtui_drivers", "benchtui_drivers")
    assert not fresh("\n".join(f"import {name}" for name in names)) & IMPURE


def test_judging_itself_loads_nothing_that_touches_the_world() -> None:
    """Deferred imports show only when the code runs: a chart is read and a fault is found."""
    code = """
from benchtui.chart.chart_file import read_chart
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.notes import Lead
from benchtui.model.readings import Channel, Readings
from benchtui.watch.bank import Bank
text = '[set]\\nname = "s"\\n[[point]]\\nname = "B+1"\\nnominal = "285 V"\\nlimit = "350 V"\\n'
chart = read_chart(text, "chart")
bank = Bank(chart, [Channel("m", "m")], Settings())
t = numpy.arange(2000) * 500_000_000
value = numpy.where(t > 900e9, 400.0, 285.0 + (numpy.arange(2000) % 3) / 10)
events = bank.feed(Block(Readings.of(t, 0, 1, value, 0.1), (Lead(0, 0, "B+1"),), int(t[-1])))
assert any(finding.kind == "limit" for finding in bank.folding.listed()), bank.folding.listed()
"""
    assert not fresh(code) & IMPURE


def test_asking_for_help_loads_nothing_heavy() -> None:
    """`benchtui --help` is quick: every command imports what it needs when it runs."""
    program = "import sys; from benchtui.cli.main import parser; parser().format_help(); print(*sys.modules)"
    assert not loaded(program) & HEAVY
