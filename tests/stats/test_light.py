"""What the formulae need to run."""

from __future__ import annotations

import pkgutil
import subprocess
import sys

import benchtui.stats


def test_numpy_is_enough() -> None:
    """A fresh interpreter imports every formula without scipy, a screen, a port or a data base."""
    names = [f"benchtui.stats.{m.name}" for m in pkgutil.iter_modules(benchtui.stats.__path__)]
    assert len(names) > 10
    code = (
        f"import importlib, sys; [importlib.import_module(n) for n in {names!r}];"
        "print([m for m in ('scipy', 'textual', 'serial', 'sqlite3', 'pint') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
