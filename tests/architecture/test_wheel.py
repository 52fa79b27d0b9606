"""What is shipped: the two packages, with everything they need, and nothing else."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """The wheel, built from this tree."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stderr
    return zipfile.ZipFile(next(folder.glob("*.whl")))


def test_the_top_level_is_exactly_the_two_packages(wheel: zipfile.ZipFile) -> None:
    """`benchtui` and `benchtui_drivers`; no `tests`, no `drivers`."""
    tops = {name.split("/")[0] for name in wheel.namelist()}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"benchtui", "benchtui_drivers"}


def test_every_file_of_the_packages_is_in_it(wheel: zipfile.ZipFile) -> None:
    """Charts, styles and the guide as well as the code."""
    shipped = set(wheel.namelist())
    for folder, package in (
        (ROOT / "benchtui", "benchtui"),
        (ROOT / "drivers/benchtui_drivers", "benchtui_drivers"),
    ):
        for path in folder.rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                assert f"{package}/{path.relative_to(folder).as_posix()}" in shipped


def test_the_built_in_drivers_come_in_by_the_open_door(wheel: zipfile.ZipFile) -> None:
    """As entry points of the group that anyone's driver uses."""
    name = next(name for name in wheel.namelist() if name.endswith("entry_points.txt"))
    text = wheel.read(name).decode()
    assert "[benchtui.drivers]" in text
    assert "lines = benchtui_drivers.lines:open_driver" in text
    assert "scpi = benchtui_drivers.scpi:open_driver" in text
