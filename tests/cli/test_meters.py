"""From a meter nobody knows to live readings, with nothing but what the program prints."""

from __future__ import annotations

import json
import re
import sys
import tomllib
from pathlib import Path

import pytest

from benchtui.cli.meters import OPENING
from benchtui.model.units import Unit
from tests.drivers.frames.wires import segments_14
from tests.peers import IDENTITY, scpi_meter

from .made import call, chart
from .talking import talking
from .test_watch import kept

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")


def pasted(said: str) -> str:
    """The bench entry out of what was printed: from `[[meter]]` to the next empty line."""
    return said[said.index("[[meter]]") :].split("\n\n")[0] + "\n"


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A person without any files yet; gives the configuration folder."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "config" / "benchtui"


def watched(
    capsys: pytest.CaptureFixture[str], folder: Path, entry: str, tables: str = "", fits: bool = True
) -> list[tuple[float, int, float, int]]:
    """The readings of two seconds of watching with this bench; `tables` stand below the entry.

    Where the meter does not read what the point is (not `fits`), nothing was read of it.
    """
    bench = folder / "bench.toml"
    bench.write_text(entry + 'point = "B+1"\n' + tables)
    session = folder / "first.session"
    status, out, err = call(
        capsys, "watch", "--chart", chart(folder), "--bench", bench,
        "--session", session, "--text", "--for", "2",
    )  # fmt: skip
    assert status in ((0, 1) if fits else (2,)), out + err
    return kept(session)


@pytest.mark.parametrize("command", [["meters", "listen"], ["meters", "--identify"]], ids=lambda c: c[-1])
def test_from_an_unknown_meter_to_live_readings(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The 14-byte frames of a display: what is printed is pasted into a bench file, and watch reads it."""
    with talking(lambda n: segments_14(f"{2850 + n % 10}", 1)) as port:
        options = [port, "--for", "2"]
        status, out, err = call(capsys, *command, *options)
        assert status == 0, out + err
        assert 'driver "frames"' in " ".join(out.split())
        assert re.search(r"\d+ readings, \S+ a second; every byte fits; the last one: 28[56].\d V", out)
        rows = watched(capsys, tmp_path, pasted(out))
    values = [row[0] for row in rows]
    assert len(values) >= 5
    assert {Unit(row[1]) for row in rows} == {Unit.V}
    assert set(values) <= {round(285 + n / 10, 1) for n in range(10)}


def test_from_a_meter_that_must_be_asked_to_live_readings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A SCPI server that this project did not write (`scpipy`): nothing is sent to it until --ask."""
    with scpi_meter(["285.5"]) as port:
        status, out, _ = call(capsys, "meters", "--identify", port, "--for", "0.5")
        assert status == 2
        assert "--ask" in out
        status, out, err = call(capsys, "meters", "--identify", port, "--ask", "--for", "20")
        assert status == 0, out + err
        assert IDENTITY.split(",")[1] in out
        assert "it sets nothing" in " ".join(out.split())
        rows = watched(capsys, tmp_path, pasted(out))
    assert {row[0] for row in rows} == {285.5}


def unheard_of(n: int) -> bytes:
    """A frame that no description knows: two start bytes, five digits, a unit, a sum."""
    body = b"\xa5\x5a" + b"%05d" % (28500 + 7 * n % 100) + b"\x01"
    return body + bytes([sum(body) & 0xFF])


def test_from_a_frame_nobody_has_described_to_live_readings(
    tmp_path: Path, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is proposed is kept where it says, completed by two lines from the display, and then fits."""
    with talking(unheard_of) as port:
        status, out, err = call(capsys, "meters", "listen", port, "--for", "3")
        assert status == 0, out + err
        place = Path(re.search(r"Keep it as: (\S+)", out)[1])  # type: ignore[index]
        assert place == config / "descriptions" / "frames" / "my-meter.toml"
        begun = out[out.index('title = "') :]
        proposed = tomllib.loads(begun)
        assert proposed["frame"]["length"] == 9
        assert proposed["check"] == {"kind": "sum", "over": "1-8", "at": "9"}
        place.parent.mkdir(parents=True)
        completed = begun.replace('# unit = "V"', 'unit = "V"').replace("# [point]", "[point]")
        place.write_text(completed.replace("# behind = 1", "behind = 2"))
        status, out, err = call(capsys, "meters", "--identify", port, "--for", "2")
        assert status == 0, out + err
        assert "your description my-meter" in " ".join(out.split())
        rows = watched(capsys, tmp_path, pasted(out))
    assert len(rows) >= 5
    assert {Unit(row[1]) for row in rows} == {Unit.V}
    assert {row[0] for row in rows} <= {round(285 + n / 100, 2) for n in range(100)}


def test_every_byte_is_shown_and_none_reaches_the_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Escape sequences and markup come out as hex and dots; the wire log holds the bytes themselves, in which
    `judge` finds no reading."""
    nasty = b"\x1b[2J\x07[/x]\x9b\x00\r\n"
    wire = tmp_path / "unknown.jsonl"
    with talking(lambda n: nasty) as port:
        status, out, _ = call(capsys, "meters", "listen", port, "--for", "1.5", "--wire", wire)
    assert status == 0
    assert "1b 5b 32 4a 07 5b 2f 78 5d 9b 00 0d 0a" in out
    assert "|.[2J.[/x]....|" in out
    assert all(c == "\n" or c.isprintable() for c in out)
    lines = [json.loads(line) for line in wire.read_text().splitlines()]
    heard = b"".join(bytes.fromhex(line["hex"]) for line in lines[1:] if line["dir"] == "rx")
    assert heard == nasty * (len(heard) // len(nasty))
    assert lines[-1]["event"] == "end"
    status, _, err = call(capsys, "judge", wire, "--chart", chart(tmp_path), "--json")
    assert status == 2, err


def test_bytes_in_which_nothing_repeats_point_to_the_speed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No frame is made up, and no entry is offered."""
    import random

    rng = random.Random(1)
    with talking(lambda n: rng.randbytes(9), 0.05) as port:
        status, out, _ = call(capsys, "meters", "--identify", port, "--for", "2")
    assert status == 2
    assert "check the speed" in out
    assert "[[meter]]" not in out


def test_a_silent_port_says_what_to_try(capsys: pytest.CaptureFixture[str]) -> None:
    """Asleep, not sending, an adapter without power, or a meter that must be asked."""
    with talking(lambda n: b"", 0.1) as port:
        status, out, _ = call(capsys, "meters", "--identify", port, "--for", "0.3")
    assert status == 2
    said = " ".join(out.split())
    for part in ("Nothing came", "fall asleep", "--dtr on --rts off", "--ask"):
        assert part in said


def test_no_port_is_opened_unasked(capsys: pytest.CaptureFixture[str]) -> None:
    """The list opens none and says so; --identify without a name opens none where nobody can be asked."""
    status, out, _ = call(capsys, "meters")
    assert status == 0
    assert "No port was opened" in out
    status, out, err = call(capsys, "meters", "--identify")
    assert status == 2
    assert "not opened unasked" in err


def test_what_opening_can_do_is_said_before(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Also for a port that then is not there: the reason follows, with the port's name."""
    missing = tmp_path / "ttyNone"
    for command in (["meters", "--identify", missing], ["meters", "listen", missing]):
        status, out, err = call(capsys, *command)
        assert status == 2
        assert " ".join(out.split()).startswith(OPENING)
        assert f"{missing}: there is no such port" in err
