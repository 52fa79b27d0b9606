"""Where a person's own files are looked for, and where sessions without a name go."""

from __future__ import annotations

import sys
from datetime import datetime
from importlib.resources import files
from pathlib import Path

import pytest

from benchtui.cli import places
from benchtui.cli.places import config_folder
from benchtui.model.errors import BenchError


@pytest.fixture(autouse=True)
def folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A person who has just begun."""
    monkeypatch.setattr(places, "config_folder", lambda: tmp_path / "config")
    monkeypatch.setattr(places, "sessions_folder", lambda: tmp_path / "sessions")


def test_a_session_without_a_name_is_named_by_set_and_time(tmp_path: Path) -> None:
    """Never a name that is taken, and no character of a set's name that a file system minds."""
    at = datetime(2024, 5, 1, 21, 4, 9)
    first = places.new_session_path("Saltmarsh Six / 1957", at)
    assert first == tmp_path / "sessions" / "Saltmarsh-Six-1957_2024-05-01_210409.session"
    first.touch()
    assert places.new_session_path("Saltmarsh Six / 1957", at).name.endswith("_210409_2.session")
    assert places.new_session_path("../..", at).name == "set_2024-05-01_210409.session"


def test_a_bench_goes_by_path_or_by_name(tmp_path: Path) -> None:
    """A file, or one in the configuration folder; the one called `bench` needs no name."""
    folder = tmp_path / "config"
    folder.mkdir()
    for name in ("bench.toml", "valves.toml"):
        (folder / name).touch()
    here = tmp_path / "mine.toml"
    here.touch()
    assert places.bench_file(str(here)) == here
    assert places.bench_file("valves") == folder / "valves.toml"
    assert places.bench_file(None) == folder / "bench.toml"
    with pytest.raises(BenchError, match="there is no bench radios"):
        places.bench_file("radios")


def test_settings_are_read_where_there_are_any(tmp_path: Path) -> None:
    """None is no error."""
    assert places.settings_file() is None
    (tmp_path / "config").mkdir()
    (tmp_path / "config" / "settings.toml").touch()
    assert places.settings_file() == tmp_path / "config" / "settings.toml"


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """And what to give instead."""
    (tmp_path / "sessions").write_text("a file")
    with pytest.raises(BenchError, match="give --session FILE"):
        places.new_session_path("set", datetime(2024, 5, 1))


def test_the_guide_says_where_the_configuration_folder_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder that the program itself uses, as the page of settings has it for this system."""
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    page = (files("benchtui") / "guide" / "settings.md").read_text(encoding="utf-8")
    named = page.split("## Your configuration folder")[1]
    if sys.platform == "win32":
        assert str(config_folder()).endswith(r"Local\benchtui")
        assert r"`%LOCALAPPDATA%\benchtui`" in named
    else:
        assert f"`~/{config_folder().relative_to(Path.home())}`" in named
