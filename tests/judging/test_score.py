"""The score end to end: cases through the program as other programs call it."""

from __future__ import annotations

import pytest

from .plain import make
from .print_table import table
from .running import by_command, in_process
from .score import main, scored
from .tally import by_kind, overall


def test_a_few_cases_are_scored_end_to_end() -> None:
    """Twelve cases run through the bank; it finds most of what happened in them."""
    cases = scored(range(12))
    figures = overall(by_kind(cases))
    assert figures.told + figures.missed >= 20
    assert figures.recall > 0.6
    assert "readings a second" in table(cases)


def test_the_command_says_what_the_bank_says() -> None:
    """`benchtui judge --json` lists the very findings, decisions and states of the bank in this process."""
    case = make(7)
    here, there = in_process(case), by_command(case)
    listed = [s for s in here.said if s.state in ("open", "closed")]
    assert [(s.kind, s.point, s.start_s, s.end_s, s.found_s, s.text) for s in there.said] == [
        (s.kind, s.point, s.start_s, s.end_s, s.found_s, s.text) for s in listed
    ]
    assert there.points == here.points


def test_held_out_seeds_need_to_be_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    """Seeds kept for the final figure are refused unless `--final` says that this is it."""
    with pytest.raises(SystemExit):
        main(["plain", "--seeds", "990:1003"])
    assert "held out" in capsys.readouterr().err
