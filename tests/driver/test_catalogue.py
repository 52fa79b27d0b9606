"""The open door: drivers by entry point, a stranger's broken one costs one meter."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from benchtui.driver.catalogue import names, open_driver
from benchtui.driver.contract import DriverOptions
from benchtui.model.errors import DriverError

OURS = {"scpi", "lines"}


@pytest.fixture
def stranger(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package as installed by someone else, with two drivers that fail in two ways."""
    info = tmp_path / "stranger-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: stranger\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(
        "[benchtui.drivers]\nfalls = stranger_driver:open_driver\ngone = stranger_missing:open_driver\n"
        "half = stranger_driver:half\nlines_too = stranger_driver:picky\n"
    )
    (tmp_path / "stranger_driver.py").write_text(
        "from benchtui.model.errors import DriverError\n"
        "def open_driver(options): raise ZeroDivisionError('by \\x1b[2J nothing')\n"
        "def half(options): return object()\n"
        "def picky(options): raise DriverError('colour: no such key\\nsize: no such key')\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    yield tmp_path
    sys.modules.pop("stranger_driver", None)


def test_ours_come_in_by_the_same_door() -> None:
    """The built-in drivers are entry points like anyone's."""
    assert set(names()) >= OURS


def test_an_unknown_driver_is_told_with_what_there_is() -> None:
    """The error names the meter, what was asked for and what could be."""
    with pytest.raises(DriverError, match=r'meter A: there is no driver "linnes"; there is: .*lines.*scpi'):
        open_driver("linnes", DriverOptions("A"))


@pytest.mark.usefixtures("stranger")
@pytest.mark.parametrize("name", ["falls", "gone", "half"])
def test_a_broken_driver_is_an_error_of_its_meter(name: str) -> None:
    """It raises, cannot be imported, or gives no driver: one DriverError that names meter and package."""
    assert name in names()
    with pytest.raises(DriverError, match=rf'meter A: the driver "{name}" \(stranger\) is broken') as failed:
        open_driver(name, DriverOptions("A"))
    assert "\x1b" not in str(failed.value)


@pytest.mark.usefixtures("stranger")
def test_every_mistake_in_the_options_names_its_meter() -> None:
    """All at once, a line each."""
    with pytest.raises(DriverError) as failed:
        open_driver("lines_too", DriverOptions("A"))
    assert str(failed.value).splitlines() == ["meter A: colour: no such key", "meter A: size: no such key"]
