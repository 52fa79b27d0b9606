"""Every description that comes with the program, and each way of finding frames, held to the contract."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from benchtui_drivers.frames_shipped import names

from benchtui.driver.kit import Peer, check_asking, check_listening

from .wires import GOOD, frames

ASKED: dict[str, Any] = {
    "line": {"baud": 600, "bits": 7, "stop": 2},
    "frame": {"length": 7, "end": [0x0D]},
    "value": {"kind": "ascii", "digits": ["1", "2", "3", "4", "5", "6"], "unit": "V"},
    "ask": {"send": [0x44], "every": "0.5 s", "answer_within": "1 s"},
}
"""Ask one byte, get one fixed line."""


@pytest.mark.parametrize("name", names())
def test_the_contract_holds(name: str) -> None:
    """Cuts, garbage, bounded memory, no exception, no clock, no I/O."""
    check_listening(lambda: frames(name), GOOD[name], cuts=60)


@pytest.mark.parametrize("gap", [{}, {"gap": "50 ms"}])
def test_the_contract_holds_for_a_meter_that_is_asked(gap: dict[str, str]) -> None:
    """One byte asked, one frame answered; also where only silence tells its end."""

    def peer() -> Peer:
        said = itertools.count()
        return lambda sent: b" %5.1f\r" % (next(said) % 1000) if sent == b"D" else b""

    description = {**ASKED, "frame": {**ASKED["frame"], **gap}}
    check_asking(lambda: frames(description), peer, seconds=20, cuts=10)
