"""A bench that does not fit: told before any port is opened, with file, line and what was probably meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchtui.cli.near import did_you_mean, nearest

from .made import call, chart

METER = '[[meter]]\nname = "left"\ndriver = "lines"\nport = "/dev/null"\n'


def told(folder: Path, capsys: pytest.CaptureFixture[str], bench: str, *more: str) -> list[str]:
    """What `watch` says of this bench; it must end with status 2, and no session is begun."""
    file, session = folder / "e.toml", folder / "a.session"
    file.write_text(bench)
    status, out, err = call(
        capsys, "watch", "--chart", chart(folder), "--bench", file, "--session", session,
        "--text", "--for", "1", *more,
    )  # fmt: skip
    assert status == 2
    assert out == ""
    assert not session.exists()
    return err.replace(str(folder) + "/", "").removeprefix("benchtui: ").splitlines()


def test_an_empty_bench_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """There would be nothing to watch."""
    (line,) = told(tmp_path, capsys, "# nothing yet\n")
    assert line.startswith("e.toml: no [[meter]] in it")


def test_a_lead_on_no_point_of_the_chart_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With what is near, or with what there is."""
    (line,) = told(tmp_path, capsys, METER, "--lead", "left=foo")
    assert line == '--lead left=foo: "foo" is no point of the chart; there are: B+1, B+2'
    (line,) = told(tmp_path, capsys, METER, "--lead", "left=b+1")
    assert line == '--lead left=b+1: "b+1" is no point of the chart; did you mean "B+1"?'


def test_a_meter_that_measures_what_its_point_is_not_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ohms on a point of volts: at the line that says so."""
    (line,) = told(tmp_path, capsys, METER + 'measures = "ohm"\npoint = "B+1"\n')
    assert line.startswith("e.toml:5: ")
    assert "measures: ohm cannot land on “B+1”, which the chart has in V: " in line


def test_every_mistake_of_a_bench_has_its_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A point that is not there, a key that is none, a driver that is none: all at once, in order."""
    bench = (
        METER + 'point = "B+3"\nspeed = 9600\n'
        '[[meter]]\nname = "right"\ndriver = "line"\nport = "/dev/zero"\nstop_bits = 1\n'
        '[[meter]]\nname = "third"\ndriver = "lines"\nport = "/dev/full"\nstop_bits = 1\n'
    )
    assert told(tmp_path, capsys, bench) == [
        'e.toml:5: meter[1].point: "B+3" is no point of the chart; did you mean "B+2"?',
        "e.toml:6: meter[1].speed: the driver lines has no such key; did you mean baud?",
        'e.toml:9: meter[2].driver: there is no driver "line"; did you mean "lines"?',
        "e.toml:16: meter[3].stop_bits: the driver lines has no such key; did you mean stop?",
    ]


def test_what_is_at_no_one_line_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two meters on one port."""
    (line,) = told(tmp_path, capsys, METER + METER.replace("left", "right"))
    assert line == 'e.toml: meters "left" and "right" are both on /dev/null'


def test_names_are_near_by_their_letters() -> None:
    """Case, blanks and a slip make no other name; a name that is quite another finds none."""
    points = ["B+1", "B+2", "V6 cathode", "heater"]
    assert nearest("v6_cathode", points) == "V6 cathode"
    assert nearest("Heatre", points) == "heater"
    assert nearest("b +2", points) == "B+2"
    assert nearest("output", points) is None
    assert did_you_mean("x", [str(n) for n in range(20)]).endswith("and 8 more")
    assert did_you_mean("x", []) == ""


def test_a_port_that_is_never_opened_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With its line, before anything is opened or made."""
    made = tmp_path / "made"
    (line,) = told(tmp_path, capsys, METER.replace("/dev/null", f"spy:///dev/null?file={made}"))
    assert line.startswith("e.toml:4: meter[1].port: spy:// is not taken: write a device, socket://")
    assert not made.exists()
