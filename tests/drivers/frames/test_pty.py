"""Frames through a real link on a pseudo-terminal. No registry has a peer that sends them: these are ours."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.port.cables import Cable, meter, session

from .test_contract import ASKED
from .wires import GOOD

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")


@pytest.mark.parametrize("name", sorted(GOOD))
def test_a_described_meter_on_a_cable(name: str, tmp_path: Path) -> None:
    """Its frames arrive in pieces, at its own pace; the first is joined in its middle; nothing is garbled."""
    cable = Cable(tmp_path / "meter")
    with session(meter("A", cable.name, "frames", description=name)) as live:
        live.until_state("A", "silent", "live")
        cable.send_at(GOOD[name][3:] + GOOD[name], baud=19200)
        live.until(lambda: len(live.readings) >= 3)
        live.until_state("A", "live")
        assert live.troubles() == []
        resolved = live.hookup.meters[0].description.options["description"]
        assert resolved["title"]
    cable.unplug()


def test_a_described_meter_that_is_asked(tmp_path: Path) -> None:
    """One byte from the computer, one frame back."""
    cable = Cable(tmp_path / "meter")
    with session(meter("A", cable.name, "frames", description=ASKED, every=0.02)) as live:
        for n in range(5):
            assert cable.heard() == b"D"
            cable.send(b"%6d\r" % n)
            live.until(lambda n=n: len(live.values) > n)  # type: ignore[misc]
        assert live.values == [0.0, 1.0, 2.0, 3.0, 4.0]
        assert live.troubles() == []
    cable.unplug()
