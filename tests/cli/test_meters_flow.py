"""As a new user would: meters of nobody's making, from `benchtui meters` to live readings, step by step.

Each step takes only what the one before has printed, what the meter's display shows, and what the guide says.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from benchtui_drivers.modbus_frames import is_sealed, sealed

from benchtui.chart.bench_file import read_bench
from benchtui.model.units import Unit
from tests.drivers.modbus.peers import tcp_stations

from .made import call
from .talking import answering, talking
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
        bench = watched(capsys, tmp_path, entry.replace('# point = "B+1"', "# "), fits=False)
    assert len(bench) >= 5
    assert {Unit(row[1]) for row in bench} == {Unit.VAC}
    assert {row[0] for row in bench} <= {round(6.3 + n / 100, 3) for n in range(20)}


def test_a_station_on_a_modbus_line(tmp_path: Path, config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`pymodbus`, which this project did not write: asked last, and only to read; then by its table."""
    with tcp_stations() as port:
        out = said(capsys, "meters", "--identify", port, "--ask", "--for", "3")
        asked = told(out)
        assert asked.index("*IDN?") < asked.index("its first input and holding register (functions 4 and 3)")
        assert 'It fits: driver "modbus", station 1 on a Modbus line' in asked
        entry = pasted(out)
        (register,) = re.findall(r"^register = .*$", entry, re.MULTILINE)
        table = '[[meter.register]]\nname = "B+1"\nnumber = 40001\ntype = "uint16"\nscale = 0.1\nunit = "V"\n'
        assert len(read_bench(entry, "as it is printed").meters) == 1
        rows = watched(capsys, tmp_path, entry.replace(register, ""), table)
    assert {(row[0], Unit(row[1])) for row in rows} == {(285.3, Unit.V)}


def test_a_station_that_refuses_is_one_too(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Illegal address: no readings, but there is somebody, and that is said."""
    refusals = {function: sealed(bytes((1, function | 0x80, 2))) for function in (3, 4)}

    def answers(sent: bytes) -> bytes:
        return refusals.get(sent[1], b"") if sent[:1] == b"\x01" and is_sealed(sent) else b""

    with answering(answers) as port:
        out = said(capsys, "meters", "--identify", port, "--ask", "--for", "1.5")
    assert "it answered, but: station 1 refuses 1 input register from 0" in told(out)
    assert "illegal data address (exception 2)" in told(out)
    assert "[[meter]]" not in out


def test_what_reads_the_same_is_not_offered_twice(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Plain numbers fit several descriptions of text lines, all with the same value."""
    with talking(lambda n: b"%d.5\r\n" % (280 + n % 9)) as port:
        out = said(capsys, "meters", "--identify", port, "--for", "1.5")
    assert "It fits" in out
    assert "Also fits" not in out
