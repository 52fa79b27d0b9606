"""As a new user would: meters of nobody's making, from `benchtui meters` to live readings, step by step.

Each step takes only what the one before has printed, what the meter's display shows, and what the guide says.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from benchtui.model.units import Unit

from .made import call
from .talking import talking
from .test_meters import config, pasted, watched

__all__ = ["config"]

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")


def packed(n: int) -> bytes:
    """Twelve bytes: A7 3C, a count, DC, six packed digits, range, unit, battery, 0, the sum of 3 to 11."""
    digits = bytes.fromhex(f"{285_000 + 37 * n % 400:06d}")
    body = bytes([n & 0xFF, 0x01]) + digits + bytes([0x03, 0x10, 0x64, 0x00])
    return b"\xa7\x3c" + body + bytes([sum(body) & 0xFF])


def words(n: int) -> bytes:
    """Words that no other meter uses, around a number with blanks before it."""
    return b"CH-A;VOLTS-ALTERNATING;%9.3f;OKAY\r" % (6.3 + n % 20 / 100)


def said(capsys: pytest.CaptureFixture[str], *args: object) -> str:
    """What a command prints."""
    _, out, err = call(capsys, *args)
    assert err == ""
    return out


def told(out: str) -> str:
    """The same, without its line breaks."""
    return " ".join(out.split())


def test_packed_digits_with_a_sum(tmp_path: Path, config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each mistake on the way is told with its reason; the display shows 285.0 and more digits."""
    listed = said(capsys, "meters")
    assert "benchtui meters --identify PORT" in listed
    with talking(packed) as port:
        identify = ("meters", "--identify", port, "--for", "2")
        out = said(capsys, *identify)
        assert "Frames of 12 bytes" in out
        place = Path(re.search(r"Keep it as: (\S+)", out)[1])  # type: ignore[index]
        assert config in place.parents
        begun = out[out.index('title = "') :]
        assert re.search(r"# Two digits a byte, it seems: 01285\d\d\d at the end", begun)
        place.parent.mkdir(parents=True)
        place.write_text(begun)
        out = told(said(capsys, *identify))
        assert (
            "It fits: driver “frames”, your description my-meter".replace("“", '"').replace("”", '"') in out
        )
        assert re.search(
            r"the last one: 1285\d\d\d For the bench file", out
        )  # which is not what the display shows

        completed = begun.replace('"4.7-4", "4.3-0", ', "").replace('# unit = "V"', 'unit = "V"')
        completed = completed.replace("# [point]", "[point]").replace("# behind = 1", "behind = 3")
        for damaged, why in (
            (
                completed.replace('"5.7-4"', '"5.7-9"'),
                "Your description my-meter: [value] digits: “5.7-9” is no place",
            ),
            (completed.replace("behind = 3", "behind = x"), "Your description my-meter: description: "),
            (completed.replace('over = "3-11"', 'over = "2-11"'), "its sum does not hold: bytes 2-11 make"),
            (completed.replace("0xA7", "0xA8"), "Your description my-meter: bytes come, no frame fits"),
        ):
            place.write_text(damaged)
            assert why in told(said(capsys, *identify))
        place.write_text(completed)
        out = said(capsys, *identify)
        assert re.search(r"the last one: 285\.\d\d\d V", told(out))
        rows = watched(capsys, tmp_path, pasted(out))
    assert len(rows) >= 5
    assert {Unit(row[1]) for row in rows} == {Unit.V}
    assert {row[0] for row in rows} <= {(285_000 + 37 * n % 400) / 1000 for n in range(400)}


@pytest.mark.parametrize("command", [["meters", "listen"], ["meters", "--identify"]], ids=lambda c: c[-1])
def test_lines_of_odd_words(
    command: list[str], tmp_path: Path, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A pattern is made from them, and tried before it is printed; pasted, it reads them."""
    with talking(words) as port:
        out = said(capsys, *command, port, "--for", "2")
        assert "The last one: “CH-A;VOLTS-ALTERNATING;" in told(out)
        assert re.search(
            r"With it: \d+ readings, \S+ a second; every byte fits; the last one: 6\.\d\d\d Vac", told(out)
        )
        assert 'units = { "VOLTS-ALTERNATING" = "Vac" }' in out
        entry = pasted(out)
        bench = watched(capsys, tmp_path, entry.replace('# point = "B+1"', "# "))
    assert len(bench) >= 5
    assert {Unit(row[1]) for row in bench} == {Unit.VAC}
    assert {row[0] for row in bench} <= {round(6.3 + n / 100, 3) for n in range(20)}
