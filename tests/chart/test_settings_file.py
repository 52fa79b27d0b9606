"""A person's settings, from a file and from the command line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.chart.settings import Settings
from benchtui.chart.settings_file import LOOKS, read_settings, settings_text
from benchtui.model.errors import ChartError
from benchtui.model.notes import plain
from benchtui.tui.draw import looks

FULL = 'warn_above = "50 V"\nfalse_alarms = "1 in 1000 h"\nsound = false\nlook = "dark"\n'


def test_every_setting() -> None:
    """All keys of a settings file, and the text kept as it was written."""
    assert read_settings(FULL, "s.toml") == Settings(50.0, 0.001, False, "dark", FULL)


def test_everything_has_a_default() -> None:
    """An empty file says nothing: 30 V (common practice) and 1 false alarm in 100 h."""
    assert read_settings("", "s.toml") == Settings(30.0, 0.01, True, "dark", "")


@pytest.mark.parametrize("level", ["50V", "50 V", "0.05 kV", "50 volts"])
def test_the_command_line_goes_before_the_file(level: str) -> None:
    """What is given on the command line replaces what the file says, and only that."""
    found = read_settings('warn_above = "40 V"\nsound = false', "s.toml", {"warn_above": level})

    assert (found.warn_above, found.sound) == (50.0, False)


def test_a_session_carries_what_the_command_line_changed() -> None:
    """The text of the settings gives the same settings again, overrides included."""
    found = read_settings(FULL, "s.toml", {"warn_above": "40 V", "sound": "on", "false_alarms": "1 in 3 h"})
    again = read_settings(found.text, "session")

    assert (found.warn_above, found.sound) == (40.0, True)
    assert again == found


@given(st.floats(1, 120), st.floats(1e-5, 60), st.booleans())
def test_any_settings_are_written_and_read_back(level: float, rate: float, sound: bool) -> None:
    """settings_text and read_settings are each other's inverse, to the last digit."""
    text = settings_text(Settings(level, rate, sound, "dark"))

    assert read_settings(text, "s") == Settings(level, rate, sound, "dark", text)


def test_every_look_is_one_that_the_dashboard_has() -> None:
    """What can be wished for is what there is."""
    assert set(LOOKS) == set(looks.LOOKS)


MISTAKES = [
    ('warn_abov = "50 V"', "warn_abov", "did you mean `warn_above`?"),
    ("warn_above = 50", "warn_above", "in quotes with its unit"),
    ('warn_above = "50 Vac"', "warn_above", "DC and AC alike"),
    ('warn_above = "500 V"', "warn_above", "between 1 V and 120 V"),
    ('warn_above = "50 mA"', "warn_above", "a DC current"),
    ('false_alarms = "never"', "false_alarms", "`1 in 100 h`"),
    ('sound = "loud"', "sound", "true or false"),
    ('look = "pink"', "look", 'write "dark" or "light"'),
]


@pytest.mark.parametrize(("text", "key", "words"), MISTAKES)
def test_one_mistake_is_one_message(text: str, key: str, words: str) -> None:
    """Each mistake gives exactly one problem, on its line, with its key and what to do."""
    with pytest.raises(ChartError) as caught:
        read_settings("\n" + text, "s.toml")
    (found,) = caught.value.problems

    assert (found.file, found.line, found.key) == ("s.toml", 2, key)
    assert words in found.what


def test_problems_of_file_and_command_line_come_together() -> None:
    """Problems of the command line name the option, without a line, after those of the file."""
    with pytest.raises(ChartError) as caught:
        read_settings('look = "pink"', "s.toml", {"warn_above": "400V", "sou\x1bnd": "on"})
    told = [str(p) for p in caught.value.problems]

    assert [t.split(": ")[:2] for t in told] == [
        ["s.toml:1", "look"],
        ["command line", "--warn-above"],
        ["command line", '--"sou\u00b7nd"'],
    ]
    assert all(plain(t) == t for t in told)
