"""What commands print: plain lines, and a bar only where someone sees it."""

from __future__ import annotations

import io
import os
import select
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.cli import console
from benchtui.cli.judge_table import clock, duration, number

from .made import call, chart, readings


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
def test_a_long_judgement_shows_a_bar_on_a_terminal_and_none_in_a_pipe(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a pseudo-terminal the bar comes and is wiped away; in a pipe there is not one byte of it."""
    monkeypatch.setattr(console, "PATIENCE_S", 0.0)
    file, given_chart = readings(tmp_path), chart(tmp_path)
    assert call(capsys, "judge", file, "--chart", given_chart)[2] == ""
    far, near = os.openpty()
    try:
        with open(near, "w", closefd=False) as terminal:
            monkeypatch.setattr(sys, "stderr", terminal)
            with console.Progress("judging", 10) as progress:
                progress.at(5)
                progress.at(10)
        shown = ""
        while select.select([far], [], [], 1.0)[0]:  # what was written may come in pieces
            shown += os.read(far, 10_000).decode()
    finally:
        os.close(far)
        os.close(near)
    assert "judging [###############...............]  50%" in shown
    assert "100%" in shown
    assert shown.endswith("\r")


@given(st.text())
def test_no_line_holds_what_a_terminal_acts_on(text: str) -> None:
    """Whatever a message holds, only its line ends are left of its control characters."""
    out = io.StringIO()
    before, sys.stdout = sys.stdout, out
    try:
        console.say(text)
    finally:
        sys.stdout = before
    shown = out.getvalue()
    assert not [c for c in shown if ord(c) < 32 and c != "\n"]
    assert not [c for c in shown if 0x7F <= ord(c) < 0xA0]
    assert shown.count("\n") == text.count("\n") + 1


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(0.0, "0:00.0"), (59.96, "1:00.0"), (61.25, "1:01.2"), (3600, "1:00:00.0"), (45_296.78, "12:34:56.8")],
)
def test_times_are_written_as_on_a_clock(seconds: float, expected: str) -> None:
    """Minutes and seconds, hours where there are any; a carry goes all the way."""
    assert clock(seconds) == expected


def test_values_and_durations_are_words() -> None:
    """As a person says them."""
    assert [duration(s) for s in (4.53, 59.97, 123, 7500)] == ["4.5 s", "60.0 s", "2 min 3 s", "2 h 5 min"]
    assert [number(*v) for v in ((None, "V"), (285.123456, "V"), (1.0, "state"), (0.0, "state"))] == [
        "-",
        "285.12 V",
        "lit",
        "out",
    ]
