"""`judge`: what it prints for people and for programs, and how it ends."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from benchtui.model.findings import SEVERITY

from .made import call, chart, environment, readings

FINDING = {"id", "kind", "point", "start_s", "end_s", "found_s", "as_of_s", "severity", "text", "evidence"}
POINT = {"unit", "state", "decision", "value", "settled", "drift_per_h", "predicted", "bleed", "why"}


def lines(text: str) -> list[dict]:
    return [json.loads(line) for line in text.splitlines()]


def test_json_is_findings_in_the_order_they_were_found_and_a_summary(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every key that the design promises, and the exit status of a fault."""
    status, out, err = call(
        capsys, "judge", readings(tmp_path, peak=360.0), "--chart", chart(tmp_path), "--json"
    )
    *findings, summary = lines(out)
    assert status == 1
    assert err == ""
    assert [f["kind"] for f in findings if f["severity"] == "fault" and f["point"] == "B+1"]
    for finding in findings:
        assert set(finding) == FINDING
        assert SEVERITY[finding["kind"]] == finding["severity"]
    assert [f["found_s"] for f in findings] == sorted(f["found_s"] for f in findings)
    assert set(summary) == {"kind", "until_s", "points"}
    assert summary["kind"] == "summary"
    assert summary["until_s"] == 119.6
    assert list(summary["points"]) == ["B+1", "B+2"]
    assert all(set(point) == POINT for point in summary["points"].values())


def test_nothing_wrong_is_status_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A healthy run: findings, but none is a fault."""
    status, out, _ = call(capsys, "judge", readings(tmp_path), "--chart", chart(tmp_path), "--json")
    assert status == 0
    assert "fault" not in {f.get("severity") for f in lines(out)}


@pytest.mark.parametrize("row", ["B+1,,V,overload", "B+1,285,ohm,"])
def test_nothing_read_is_status_2(tmp_path: Path, capsys: pytest.CaptureFixture[str], row: str) -> None:
    """No number of any point: that is not "nothing wrong", neither to `judge` nor to a whole `replay`."""
    file = tmp_path / "r.csv"
    rows = [f"{t}.0,{row}" for t in range(20)]
    file.write_text("\n".join(["t_s,point,value,unit,flag", *rows]) + "\n")
    status, out, err = call(capsys, "judge", file, "--chart", chart(tmp_path), "--json")
    assert status == 2
    assert lines(out)[-1]["kind"] == "summary"
    assert "r.csv: nothing was read" in err
    status, _, _ = call(capsys, "replay", file, "--chart", chart(tmp_path), "--text", "--speed", "1000")
    assert status == 2


def test_events_up_to_a_time_are_those_of_the_whole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`--events --until T` prints exactly the lines of `--events` with `at_s` up to T, byte for byte."""
    file, given = readings(tmp_path, peak=360.0), ("--chart", chart(tmp_path), "--events")
    _, whole, _ = call(capsys, "judge", file, *given)
    assert [e["seq"] for e in lines(whole)] == list(range(len(lines(whole))))
    for until in ("0", "5.25", "60", "100.5", "101", "119.5", "1000"):
        _, early, _ = call(capsys, "judge", file, *given, "--until", until)
        expected = [line for line in whole.splitlines() if json.loads(line)["at_s"] <= float(until)]
        assert early.splitlines() == expected


def test_a_file_that_ends_there_says_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`--until T` is as good as a file that was cut at T."""
    file = readings(tmp_path, peak=360.0)
    rows = file.read_text().splitlines(keepends=True)
    for until in ("30.6", "101.5", "103.1"):
        cut = tmp_path / "cut.csv"
        cut.write_text(rows[0] + "".join(r for r in rows[1:] if float(r.split(",")[0]) <= float(until)))
        last = cut.read_text().splitlines()[-1].split(",")[0]
        given = ("--chart", chart(tmp_path), "--json")
        assert call(capsys, "judge", cut, *given) == call(capsys, "judge", file, *given, "--until", last)


def test_the_table_is_plain_text_of_80_columns(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Readable in any terminal and by a screen reader."""
    file = readings(tmp_path, peak=360.0)
    status, out, _ = call(capsys, "judge", file, "--chart", chart(tmp_path))
    assert status == 1
    assert max(map(len, out.splitlines())) <= 80
    assert out.startswith("Saltmarsh Six: CSV, 2 min 0 s\n")
    assert "never above 350 V" in " ".join(out.split())
    assert "B+2" in out


def test_marks_are_part_of_what_is_judged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A mark `off` ends the run."""
    marks = tmp_path / "m.csv"
    marks.write_text("t_s,kind,note\n5,on,\n110,off,\n")
    given = ("--chart", chart(tmp_path), "--marks", marks, "--json")
    _, out, _ = call(capsys, "judge", readings(tmp_path), *given)
    assert {"power_on", "power_off"} <= {f["kind"] for f in lines(out)}


def test_marks_stand_in_the_table_at_their_times(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each as a row MARK, before whatever was found after it."""
    marks = tmp_path / "m.csv"
    marks.write_text("t_s,kind,note,what\n99,tap,lightly,V8\n60,note,,\n")
    given = ("--chart", chart(tmp_path), "--marks", marks)
    _, out, _ = call(capsys, "judge", readings(tmp_path, peak=360.0), *given)
    rows = out.splitlines()
    shown = [row.split(None, 1) for row in rows if "MARK" in row]
    assert [(row[0], row[1].split("MARK")[1].strip()) for row in shown] == [
        ("1:00.0", "note"),
        ("1:39.0", "tap V8: lightly"),
    ]
    (rating,) = [n for n, row in enumerate(rows) if row.startswith("   1:40.0") and "fault" in row][:1]
    assert rows.index(next(row for row in rows if "tap V8" in row)) < rating


def test_the_table_says_which_clock_and_the_time_after_power_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On at 5 s: what began at 1:40 began 1:35 after it. With several runs there is one clock."""
    file, marks = readings(tmp_path, peak=360.0), tmp_path / "m.csv"
    marks.write_text("t_s,kind,note\n5,on,\n")
    given = ("--chart", chart(tmp_path), "--marks", marks)
    _, out, _ = call(capsys, "judge", file, *given)
    assert "FROM and TO: since the session began; AFTER ON: since power-on," in " ".join(out.split())
    row = next(row for row in out.splitlines() if row.startswith("   1:40.0"))
    assert "  1:35.0  fault" in row
    marks.write_text("t_s,kind,note\n5,on,\n60,off,\n62,on,\n")
    _, out, _ = call(capsys, "judge", file, *given)
    assert "AFTER ON" not in out
    assert "FROM and TO: since the session began." in out


def test_a_point_that_the_chart_calls_otherwise_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On standard error, with the name that was probably meant; the judging goes on."""
    file = readings(tmp_path)
    file.write_text(file.read_text().replace(",B+2,", ",b+2,"))
    status, out, err = call(capsys, "judge", file, "--chart", chart(tmp_path), "--json")
    assert status == 0
    assert err == (
        'benchtui: warning: "b+2" is no point of the chart and was judged without limits; '
        'did you mean "B+2"?\n'
    )
    assert "b+2" in lines(out)[-1]["points"]
    file.write_text(file.read_text().replace(",b+2,", ",output,"))
    assert call(capsys, "judge", file, "--chart", chart(tmp_path), "--json")[2] == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("# mine\n[set]\nname = 'x'\n", "this is a chart; give a recording (session, wire log or CSV)"),
        ("[[meter]]\n", "this is a bench; give a recording"),
        ('warn_above = "30 V"\n', "this is a settings file; give a recording"),
        (
            "# Notes\n\nWrite a chart:\n\n[set]\nname = 'x'\n",
            "this is no recording (session, wire log or CSV)",
        ),
        ("[[must]]\nkinds = ['step']\n", "this is a TOML file; give a recording"),
        ("", "is empty"),
        (" \n\n", "is empty"),
    ],
)
def test_what_is_no_recording_is_called_what_it_is(
    text: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line, status 2."""
    file = tmp_path / "amp.toml"
    file.write_text(text)
    status, out, err = call(capsys, "judge", file)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert words in err


@pytest.mark.parametrize("cut", [1, 3, 5, 8, 10, 12])
def test_a_last_line_that_was_cut_off_is_left_out(
    cut: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Judged as if it were not there, with its line on standard error; the status is the judgement's."""
    file = readings(tmp_path, peak=360.0)
    whole = file.read_text()
    given = ("--chart", chart(tmp_path), "--json")
    expected = call(capsys, "judge", file, *given)
    file.write_text(f"{whole}{'120.0,B+1,285.0,V,overload'[:cut]}")
    status, out, err = call(capsys, "judge", file, *given)
    assert (status, out) == expected[:2]
    assert f"r.csv:{whole.count(chr(10)) + 1}:" in err
    assert "judged up to it" in err


def test_the_warning_level_can_be_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And a wrong one is an error that names the option."""
    file = readings(tmp_path)
    assert call(capsys, "judge", file, "--warn-above", "50V")[0] == 0
    status, _, err = call(capsys, "judge", file, "--warn-above", "50 ohm")
    assert status == 2
    assert "--warn-above" in err


@pytest.mark.parametrize("until", ["soon", "-1", "1.0000000001", ""])
def test_a_time_that_is_none_is_refused(
    until: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Seconds, with at most nine decimals."""
    status, out, err = call(capsys, "judge", readings(tmp_path), f"--until={until}")
    assert (status, out) == (2, "")
    assert "--until" in err


def test_all_mistakes_of_a_chart_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One line each, status 2, and nothing is judged by half a chart."""
    bad = tmp_path / "bad.toml"
    bad.write_text('[set]\nnmae = "x"\n[[point]]\nname = "A"\nnominal = "5 kg"\n')
    status, out, err = call(capsys, "judge", readings(tmp_path), "--chart", bad)
    assert (status, out) == (2, "")
    assert f"{bad}:2" in err
    assert f"{bad}:5" in err


def test_sorted_rows_are_said_on_standard_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Standard output stays JSON Lines."""
    file = readings(tmp_path)
    rows = file.read_text().splitlines()
    rows[10], rows[12] = rows[12], rows[10]
    file.write_text("\n".join(rows) + "\n")
    _, out, err = call(capsys, "judge", file, "--json")
    assert "not in the order of time" in err
    assert lines(out)


def test_no_settings_of_the_person_are_read(tmp_path: Path) -> None:
    """A judgement is the same on anyone's machine: a spoilt settings file does not even show."""
    folder = tmp_path / "config" / "benchtui"
    folder.mkdir(parents=True)
    (folder / "settings.toml").write_text("this is no TOML")
    (folder / "bench.toml").write_text("neither is this")
    command = [sys.executable, "-m", "benchtui.cli.main", "judge", str(readings(tmp_path)), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment(tmp_path))
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""


def test_names_from_a_file_never_reach_the_terminal_as_they_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Markup is text; escape sequences are refused by line, and shown harmless."""
    file = tmp_path / "r.csv"
    file.write_text("t_s,point,value,unit,flag\n" + "".join(f"{n},[/x] {{0}} %s,1,V,\n" for n in range(20)))
    status, out, _ = call(capsys, "judge", file)
    assert status == 0
    assert "[/x] {0} %s" in out
    file.write_text("t_s,point,value,unit,flag\n0,\x1b]0;gone\x07,1,V,\n")
    status, out, err = call(capsys, "judge", file)
    assert status == 2
    assert "\x1b" not in out + err
    assert "\x07" not in out + err


def test_the_table_is_in_the_order_in_which_things_began(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Findings and marks alike, as its heading says."""
    marks = tmp_path / "m.csv"
    marks.write_text("t_s,kind,note,what\n5.0,on,,\n99.9,tap,,V8\n101.0,note,louder,\n")
    args = (readings(tmp_path, peak=360.0), "--chart", chart(tmp_path), "--marks", marks)
    _, out, _ = call(capsys, "judge", *args)
    assert "In the order of FROM." in out
    begun = [line[:9].strip() for line in out.split("\n\nPOINT")[0].splitlines() if ":" in line[:9]]
    seconds = [60 * int(t.split(":")[0]) + float(t.split(":")[1]) for t in begun if t[0].isdigit()]
    assert len(seconds) > 5
    assert seconds == sorted(seconds)
    assert seconds.count(99.9) == 1
