"""CSV of readings and of marks: what is read, what is refused, and in which words."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchtui.model.errors import SessionError
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Flag
from benchtui.model.units import Unit
from benchtui.store.csv import CsvReadings, read_marks, read_readings

HEAD = "t_s,point,value,unit,flag\n"


def read(folder: Path, text: str, encoding: str = "utf-8") -> CsvReadings:
    path = folder / "r.csv"
    path.write_bytes(text.encode(encoding))
    return read_readings(path)


def problems(folder: Path, text: str) -> list[str]:
    with pytest.raises(SessionError) as caught:
        read(folder, text)
    return [line.removeprefix(str(folder / "r.csv")) for line in str(caught.value).split("\n")]


def test_a_file_is_read_in_si_units_and_nanoseconds(tmp_path: Path) -> None:
    """DC and AC, prefixes, a state, an overload without a value, flags."""
    table = read(
        tmp_path,
        HEAD + "0,B+1,285.0,V,\n0.2,heater,6300,mVac,hold\n0.4,B+1,,V,overload\n"
        "0.500000001,pilot,1,state,\n0.6,k,47,mA,hold low_battery\n0.7,R5,4.7,kohm,\n",
    )
    r = table.readings
    assert r.t_ns.tolist() == [0, 200_000_000, 400_000_000, 500_000_001, 600_000_000, 700_000_000]
    assert r.value[:2].tolist() == [285.0, 6.3]
    assert np.isnan(r.value[2])
    assert r.value[3:].tolist() == [1.0, 0.047, 4700.0]
    assert [Unit(u) for u in r.unit] == [Unit.V, Unit.VAC, Unit.V, Unit.STATE, Unit.A, Unit.OHM]
    assert r.flags.tolist() == [0, Flag.HOLD, Flag.OVERLOAD, 0, Flag.HOLD | Flag.LOW_BATTERY, 0]
    assert r.resolution.tolist() == [0.1, 0.001, 0.0, 0.0, 0.001, 100.0]
    assert [c.name for c in table.channels] == ["B+1", "heater", "pilot", "k", "R5"]
    assert [c.eye for c in table.channels] == [False, False, True, False, False]
    assert table.leads == tuple(Lead(0, n, c.name) for n, c in enumerate(table.channels))


@pytest.mark.parametrize("written", ["{0}", "\ufeff{0}"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_line_ends_marks_of_order_quotes_and_blank_lines_do_not_matter(
    tmp_path: Path, written: str, end: str
) -> None:
    """What spreadsheets do to a file is still the file."""
    text = HEAD + '0, B+1 ,"285.0",V,\n\n"1","B+1",+285.1,"V",""\n\n'
    table = read(tmp_path, written.format(text.replace("\n", end)))
    assert table.readings.value.tolist() == [285.0, 285.1]
    assert table.points == (("B+1", Unit.V),)


def test_columns_may_stand_in_any_order(tmp_path: Path) -> None:
    """They go by their names."""
    table = read(tmp_path, "value,resolution,unit,flag,t_s,channel,point\n1.5,0.01,V,,3,meter 1,B+1\n")
    assert table.readings.t_ns.tolist() == [3_000_000_000]
    assert table.readings.resolution.tolist() == [0.01]
    assert table.channels[0].name == "meter 1"


def test_a_channel_whose_point_changes_has_its_lead_moved(tmp_path: Path) -> None:
    """No statistic mixes readings from before and after: a lead stands wherever the point changes."""
    table = read(
        tmp_path,
        "t_s,point,value,unit,flag,channel\n"
        "0,B+1,1,V,,a\n1,B+2,2,V,,b\n2,B+1,3,V,,a\n3,B+2,4,V,,a\n4,B+1,5,V,,a\n",
    )
    assert table.leads == (
        Lead(0, 0, "B+1"),
        Lead(0, 1, "B+2"),
        Lead(3_000_000_000, 0, "B+2"),
        Lead(4_000_000_000, 0, "B+1"),
    )


def test_rows_out_of_order_are_sorted_and_counted(tmp_path: Path) -> None:
    """Meters that were written one after the other, or a little late, are one timeline."""
    table = read(tmp_path, HEAD + "0,A,1,V,\n100,A,2,V,\n99,A,3,V,\n0,B,4,V,\n100,B,5,V,\n")
    assert table.readings.value.tolist() == [1, 4, 3, 2, 5]
    assert table.moved == 2


def test_a_time_that_goes_far_back_is_another_recording(tmp_path: Path) -> None:
    """Two recordings in one file are refused, with the line where the second begins."""
    assert problems(tmp_path, HEAD + "0,A,1,V,\n3600,A,1,V,\n0.5,A,1,V,\n") == [
        ":4: t_s: A: the time goes back by 3599.5 s: two recordings in one file?"
    ]


def test_every_mistake_has_its_line(tmp_path: Path) -> None:
    """One line each, in words a person can act on, all in one go."""
    said = problems(
        tmp_path,
        HEAD + "0,B+1,285.0,V,\n"
        "x,B+1,285.0,V,\n"
        "1.0000000001,B+1,285.0,V,\n"
        "2,,285.0,V,\n"
        "3,B+1,285.0,Vdc,\n"
        "4,B+1,285.0,volts,\n"
        "5,B+1,nan,V,\n"
        '6,B+1,"285,0",V,\n'
        "7,B+1,,V,\n"
        "8,B+1,1,V,overload\n"
        "9,B+1,285.0,V,hld\n"
        "10,pilot,2,state,\n"
        "11,B+1,285.0,V\n"
        "12,B+1,1e999,V,\n",
    )
    expected = [
        (3, "t_s", "`x` is no time"), (4, "t_s", "at most 9 decimals"), (5, "point", "missing"),
        (6, "unit", "write V for DC"), (7, "unit", "`volts` is no unit"), (8, "value", "`nan` is no number"),
        (9, "value", "decimal sign as a point"), (10, "value", "is missing"), (11, "value", "field empty"),
        (12, "flag", "`hld` is no flag"), (13, "value", "a state is 1 or 0"), (14, "4 fields", "names 5"),
        (15, "value", "`1e999` is no number"),
    ]  # fmt: skip
    assert len(said) == len(expected)
    for line, (number, column, words) in zip(said, expected, strict=True):
        assert line.startswith(f":{number}: {column}")
        assert words in line


@pytest.mark.parametrize(
    ("value", "hint"),
    [
        ("1,285", "write 1.285 if the comma is the decimal sign, 1285 if it parts thousands"),
        ("-12,500", "write -12.500 if the comma is the decimal sign, -12500 if it parts thousands"),
        ("1,285,000", "write 1285000, without commas"),
        ("0,285", "write the decimal sign as a point"),
        ("1,28", "write the decimal sign as a point"),
    ],
)
def test_a_comma_before_three_digits_may_part_thousands(tmp_path: Path, value: str, hint: str) -> None:
    """Both ways to write it are offered: a thousandth of a voltage is not a guess to make."""
    assert problems(tmp_path, HEAD + f'0,B+1,"{value}",V,\n') == [f":2: value: `{value}`: {hint}"]


def test_a_thousand_mistakes_are_told_as_twenty_and_more(tmp_path: Path) -> None:
    """Nobody reads more; and the file is not read to its end for it."""
    said = problems(tmp_path, HEAD + "x,B+1,1,V,\n" * 1000)
    assert len(said) == 21
    assert said[0].startswith(":2: t_s:")
    assert said[19].startswith(":21: t_s:")
    assert said[20].endswith("and more like these")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the first line must be t_s,point,value,unit,flag"),
        ("t_s,point,value\n", "no column unit, flag"),
        ("t_s;point;value;unit;flag\n0;B+1;285,0;V;\n", "separated by `;`"),
        ("t_s,point,value,unit,flag,colour\n", "unknown column"),
        ("t_s,point,value,unit,flag,flag\n", "there twice"),
        (HEAD, "not one reading"),
        (HEAD + '0,"B+\n1",1,V,\n', "a line ends inside quotes"),
        (HEAD + '0,"B+1,1,V,\n', "no CSV: a quote is opened here"),
        (HEAD + '0,B+"1,1,V,\n', ":2: a stray quote"),
        (HEAD + '0,"B+1" x,1,V,\n', "no CSV: something follows a closing quote"),
        (HEAD + "0\n", ":2: 1 field where the first line names 5"),
        (HEAD + "0,\x1b[2J,1,V,\n", "`·[2J` is no name"),
    ],
)
def test_what_is_no_such_file_is_told(tmp_path: Path, text: str, words: str) -> None:
    """Other separators, missing columns, open quotes, names that a terminal would act on."""
    said = problems(tmp_path, text)
    assert any(words in line for line in said), said
    assert "\x1b" not in "".join(said)


def test_text_in_another_encoding_is_told_by_its_line(tmp_path: Path) -> None:
    """A byte that is no UTF-8 spoils its own row, with its line, and nothing crashes."""
    path = tmp_path / "r.csv"
    path.write_bytes(HEAD.encode() + b"0,B+1,1,V,\n1,R\xe9sistance,1,V,\n")
    with pytest.raises(SessionError, match=r":3: point:"):
        read_readings(path)


def test_a_resolution_is_what_was_written_once_zeros_are_kept(tmp_path: Path) -> None:
    """`5.10` shows that zeros are kept: from there on each reading's own digits count, on any range."""
    table = read(tmp_path, HEAD + "0,A,5.12,V,\n1,A,5.10,V,\n2,A,15.0,V,\n3,A,150,V,\n4,A,15.1,V,\n")
    assert table.readings.resolution.tolist() == [0.01, 0.01, 0.1, 1.0, 0.1]


def test_zeros_that_a_spreadsheet_dropped_do_not_make_a_meter_coarse(tmp_path: Path) -> None:
    """`285` among readings like `284.9` was `285.0`: the finest of the channel's last 20 counts."""
    values = ["284.9", "285", "285.1", "285"] + ["285"] * 19
    rows = "".join(f"{t},A,{value},V,\n{t},B,{t},V,\n" for t, value in enumerate(values))
    table = read(tmp_path, HEAD + rows)
    of_a = table.readings.resolution[table.readings.channel == 0].tolist()
    assert of_a[:22] == [0.1] * 22
    assert of_a[22] == 1.0
    assert set(table.readings.resolution[table.readings.channel == 1].tolist()) == {1.0}


def test_a_resolution_given_in_the_file_counts(tmp_path: Path) -> None:
    """In the unit of its row; an empty field leaves it to the digits."""
    table = read(
        tmp_path, "t_s,point,value,unit,flag,resolution\n0,A,285,V,,0.05\n1,A,2851,mV,,10\n2,A,3.5,V,,\n"
    )
    assert table.readings.resolution.tolist() == [0.05, 0.01, 0.001]


VALUES = st.decimals(-1000, 1000, places=2, allow_nan=False)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=100)
@given(
    st.lists(st.tuples(st.integers(0, 10**12), st.sampled_from("ABC"), VALUES), min_size=1, max_size=60),
    st.integers(0, 10**12),
)
def test_what_a_reading_is_depends_on_nothing_after_it(
    tmp_path: Path, rows: list[tuple[int, str, object]], end_ns: int
) -> None:
    """Prefix law of the reader: the readings up to a time are the same from a file that ends there."""
    rows = sorted(rows, key=lambda row: row[0])
    lines = [f"{t // 10**9}.{t % 10**9:09},{point},{value:f},V,\n" for t, point, value in rows]  # type: ignore[str-format]
    whole = read(tmp_path, HEAD + "".join(lines)).readings
    known = [line for line, row in zip(lines, rows, strict=True) if row[0] <= end_ns]
    if known:
        part = read(tmp_path, HEAD + "".join(known)).readings
        for name in ("t_ns", "channel", "unit", "value", "resolution", "flags"):
            assert getattr(part, name).tolist() == getattr(whole, name)[: len(part)].tolist()


def test_chunks_make_no_difference(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Read a few rows at a time or all at once: the same, and the same lines in the same mistakes."""
    chosen = random.Random(2)
    rows = [f"{n / 4},P{n % 3},{chosen.uniform(-5, 300):.{n % 4}f},V,\n" for n in range(200)]
    once = read(tmp_path, HEAD + "".join(rows)).readings
    rows[100] = "25,P1,oops,V,\n"
    told = problems(tmp_path, HEAD + "".join(rows))
    monkeypatch.setattr("benchtui.store.csv_sheet.CHUNK", 100)
    assert problems(tmp_path, HEAD + "".join(rows)) == told
    rows[100] = f"{100 / 4},P1,{once.value[100]:.0f},V,\n"
    again = read(tmp_path, HEAD + "".join(rows)).readings
    for name in ("t_ns", "channel", "unit", "resolution", "flags"):
        assert getattr(again, name).tolist() == getattr(once, name).tolist()


def test_marks_are_read_and_sorted(tmp_path: Path) -> None:
    """`what` is optional; notes are made plain."""
    path = tmp_path / "m.csv"
    path.write_text("t_s,kind,note,what\n12.5,tap,hard,V4\n3,on,,\n20,note,a\x07b,\n")
    assert read_marks(path) == (
        Mark(3_000_000_000, "on", "", ""),
        Mark(12_500_000_000, "tap", "hard", "V4"),
        Mark(20_000_000_000, "note", "a·b", ""),
    )


def test_mistakes_in_marks_have_their_lines(tmp_path: Path) -> None:
    """An unknown kind names the kinds there are."""
    path = tmp_path / "m.csv"
    path.write_text("t_s,kind,note\nsoon,tap,\n1,kick,\n2,tap\n")
    with pytest.raises(SessionError) as caught:
        read_marks(path)
    lines = str(caught.value).split("\n")
    assert [line.split(":")[1] for line in lines] == ["2", "3", "4"]
    assert "tap, adjust, heat" in lines[1]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.integers(0, 10**7), st.sampled_from("ABC"), VALUES), min_size=1, max_size=40))
def test_quotes_make_no_difference(tmp_path: Path, rows: list[tuple[int, str, object]]) -> None:
    """The quick way for plain files and the way for quoted ones read the same."""
    rows = sorted(rows, key=lambda row: row[0])
    plain = read(tmp_path, HEAD + "".join(f"{t / 1000},{p},{v:f},V,hold\n" for t, p, v in rows))  # type: ignore[str-format]
    quoted = read(tmp_path, HEAD + "".join(f'"{t / 1000}",{p},"{v:f}","V",hold\r' for t, p, v in rows))  # type: ignore[str-format]
    for name in ("t_ns", "channel", "unit", "value", "resolution", "flags"):
        assert getattr(plain.readings, name).tolist() == getattr(quoted.readings, name).tolist()
    assert plain.leads == quoted.leads


def test_a_line_without_an_end_is_told(tmp_path: Path) -> None:
    """Ten megabytes in one line are no readings, and memory holds only some of them."""
    said = problems(tmp_path, HEAD + "0,A,1,V,\n" + "9" * 10_000_000)
    assert said == [":3: the line is longer than any reading"]


def test_a_quote_inside_quotes_is_a_character(tmp_path: Path) -> None:
    """Doubled, as RFC 4180 section 2 has it; in the note of a mark a single one is one too."""
    assert read(tmp_path, HEAD + '0,"tap ""A""",1,V,\n').points == (('tap "A"', Unit.V),)
    marks = tmp_path / "m.csv"
    marks.write_text('t_s,kind,note\n1,note,the 1/4" bolt\n')
    assert read_marks(marks)[0].note == 'the 1/4" bolt'


def test_a_cut_line_is_forgiven_only_at_the_end_and_alone(tmp_path: Path) -> None:
    """A mistake in the middle, or a bad last line that was ended, is a mistake as ever."""
    commas = tmp_path / "commas.csv"
    commas.write_text(HEAD + "0,A,1.5,V,\n1,A,265,8,V,\n2,A,1,V,,,\n")
    with pytest.raises(SessionError) as told:
        read_readings(commas)
    first, second = str(told.value).splitlines()
    assert first.endswith(
        ":3: 6 fields where the first line names 5: is `265,8` a decimal comma? Write 265.8"
    )
    assert second.endswith(":4: 7 fields where the first line names 5")
    assert read(tmp_path, HEAD + "0,A,1,V,\n1,A,1").cut.endswith(":3: 3 fields where the first line names 5")
    assert read(tmp_path, HEAD + "0,A,1,V,\n1,A,1,V,over").cut.endswith(
        ":3: flag: `over` is no flag: write overload, hold, low_battery, separated by spaces, or nothing"
    )
    assert read(tmp_path, HEAD + '0,A,1,V,\n1,"A').cut
    assert read(tmp_path, HEAD + "0,A,1,V,\n1,A,1,V,").cut == ""
    assert problems(tmp_path, HEAD + "0,A,1,V,\n1,A,1\n")
    assert len(problems(tmp_path, HEAD + "0,A,x,V,\n1,A,1,V,\n2,A")) == 2
    assert problems(tmp_path, HEAD + "0,A,1")
