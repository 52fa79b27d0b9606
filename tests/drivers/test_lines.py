"""Text-line meters: listened to or asked, with nothing described or much."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import Driver, DriverOptions, Out
from benchtui.driver.kit import check_asking, check_listening
from benchtui.model.errors import DriverError
from benchtui.model.readings import Flag
from benchtui.model.units import Unit

SECOND = 1_000_000_000


def _lines(measures: Unit = Unit.V, **options: Any) -> Driver:
    return open_driver("lines", DriverOptions("A", measures, options))


def _heard(driver: Driver, *pieces: bytes) -> list[float]:
    driver.start(0)
    return [v for n, piece in enumerate(pieces) for v in driver.feed(piece, n + 1).readings.value.tolist()]


CONTRACT: list[tuple[Unit, Mapping[str, Any], bytes]] = [
    (Unit.V, {}, b"12.3\r\n12.4 V DC\r\nOL\r\n-3.0 mV\r\n0.1\n2\r"),
    (Unit.V, {"repeats": 2}, b"1.1\n1.1\n1.2\n1.2\n1.2\n1.2\n1.3\n1.3\n"),
    (Unit.STATE, {}, b"1\non\n0\nout\n"),
    (
        Unit.V,
        {
            "pattern": r"(?P<sign>[+-])(?P<value>\d{4}|OL  )(?P<prefix>[mk ])(?P<unit>[VO])(?P<flags>[HB]*)",
            "units": {"O": "ohm"},
            "flags": {"H": "hold", "B": "low_battery"},
            "overload": ["OL"],
            "terminator": "cr",
        },
        b"+1234mV\r-0012kOH\r+OL   V\r+0001 VB\r",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("measures", "options", "wire"), CONTRACT)
def test_the_contract_holds(measures: Unit, options: Mapping[str, Any], wire: bytes) -> None:
    """Cuts, garbage, bounded memory, no exception, no clock, no I/O; whatever is described."""
    check_listening(lambda: open_driver("lines", DriverOptions("A", measures, options)), wire, cuts=30)


def test_the_contract_holds_for_a_meter_that_is_asked() -> None:
    """One byte asked, one line answered."""

    def peer() -> Any:
        said = iter(range(1000))
        return lambda sent: b"%d.5 V\r" % next(said) if sent == b"D" else b""

    check_asking(lambda: _lines(request="D", every=0.5), peer, seconds=20, cuts=10)


def test_nothing_need_be_described() -> None:
    """A value with its unit a line, or a plain number a line."""
    assert _heard(_lines(), b"x\r\n285.3 V DC\r\n+0.1\r\n") == [285.3, 0.1]


def test_the_first_piece_of_a_line_is_no_reading() -> None:
    """Joining in the middle of 285.3 must not give 5.3; the bytes are counted, and are no trouble."""
    driver = _lines()
    driver.start(0)
    out = driver.feed(b"5.3 V\r\n286.1 V\r\n", 1)
    assert out.readings.value.tolist() == [286.1]
    assert (out.skipped, out.troubles) == (5, ())


def test_garbage_at_connect_is_told() -> None:
    """A burst that is no text is not the cost of joining: one trouble, with the number of bytes."""
    driver = _lines()
    driver.start(0)
    out = driver.feed(b"\x00\xfe\x1b[2J\x9b\r\n286.1 V\r\n", 1)
    assert [(t.kind, t.count) for t in out.troubles] == [("garbled", 7)]
    assert out.readings.value.tolist() == [286.1]


def test_a_half_line_is_kept_until_it_ends() -> None:
    """A pause in the middle of a line changes nothing."""
    driver = _lines()
    _heard(driver, b"\n28")
    assert driver.feed(b"", SECOND).readings.value.tolist() == []
    assert driver.feed(b"5.3\r\n", 3 * SECOND).readings.value.tolist() == [285.3]


def test_the_wrong_speed_is_recognised_and_said() -> None:
    """Bytes come, nothing fits: after 2 s it is said what to check."""
    driver = _lines()
    driver.start(0)
    said: list[str] = []
    for n in range(30):
        at = n * SECOND // 10
        said += [t.text for t in driver.feed(b"\xe6\x00\x98\x9e\x80\x06", at).troubles]
        if driver.wake_ns is not None and driver.wake_ns <= at:
            said += [t.text for t in driver.tick(at).troubles]
    assert len(said) == 1
    assert said[0].startswith("bytes come, no line fits: check the speed")


def test_what_a_meter_writes_never_reaches_a_screen_raw() -> None:
    """Markup and escape sequences in a line are shown as plain text, and harm no other line."""
    driver = _lines()
    driver.start(0)
    out = driver.feed(b"\n[/x]\x1b]0;title\x07\n285.3\n", 1)
    assert out.readings.value.tolist() == [285.3]
    assert "[/x]·]0;title·" in out.troubles[0].text


def test_ten_thousand_bytes_without_a_line_end() -> None:
    """They are counted in troubles of at most 4096 bytes, and the next line is read."""
    driver = _lines()
    driver.start(0)
    first = driver.feed(b"\n" + b"x" * 10_000, 1)
    second = driver.feed(b"\n285.3\n", 2)
    assert sum(t.count for t in (*first.troubles, *second.troubles)) == 10_000
    assert second.readings.value.tolist() == [285.3]


def test_over_range_is_a_flag_and_no_value() -> None:
    """OL is not a voltage."""
    driver = _lines()
    driver.start(0)
    readings = driver.feed(b"\nOL V\n9.9E37\n", 1).readings
    assert [math.isnan(v) for v in readings.value.tolist()] == [True, True]
    assert readings.flags.tolist() == [Flag.OVERLOAD, Flag.OVERLOAD]


@pytest.mark.parametrize(
    ("wire", "kept"),
    [
        (b"1.1\n1.1\n1.2\n1.2\n", [1.1, 1.2]),
        (b"1.1\n1.1\n1.1\n1.1\n", [1.1, 1.1]),
        (b"1.1\n#\n1.1\n1.1\n", [1.1, 1.1]),
        (b"#\n1.1\n1.1\n1.1\n", [1.1, 1.1]),
        (b"1.1\n1.2\n1.2\n1.3\n1.3\n", [1.1, 1.2, 1.3]),
    ],
)
def test_a_conversion_that_is_sent_twice_is_one_reading(wire: bytes, kept: list[float]) -> None:
    """Also when one of the copies is damaged, or was missed at the start."""
    assert _heard(_lines(repeats=2), b"\n" + wire) == kept


def test_a_meter_is_asked_at_its_interval() -> None:
    """First quiet for 0.2 s, then every half second, and again when no answer has come."""
    driver = _lines(request="D", every="500 ms", answer_within="1 s", terminator="crlf")
    asked: list[float] = []
    out = driver.start(0)
    for _ in range(6):
        wake = driver.wake_ns
        assert wake is not None
        assert driver.tick(wake - 1).send == b""
        out = driver.tick(wake)
        assert out.send == b"D\r\n"
        asked.append(wake / SECOND)
        if len(asked) < 4:
            driver.feed(b"285.3\r\n", wake + SECOND // 10)
    assert asked == [0.2, 0.7, 1.2, 1.7, 2.7, 3.7]


def test_bytes_from_before_the_first_question_are_not_its_answer() -> None:
    """What stands in an adapter's buffer is old."""
    driver = _lines(request="D")
    driver.start(0)
    out = driver.feed(b"111.1\r\n", SECOND // 10)
    assert (len(out.readings), out.skipped) == (0, 7)


def test_the_eighth_bit_may_be_parity() -> None:
    """Seven bits and even parity read as eight without."""
    wire = bytes(b | (bin(b).count("1") % 2) << 7 for b in b"\n285.3 V\n")
    assert _heard(_lines(strip_high_bit=True), wire) == [285.3]


@settings(deadline=None)
@given(st.binary(max_size=600), st.lists(st.integers(0, 600), max_size=6))
def test_any_bytes_cut_anyhow_give_the_same(stream: bytes, places: list[int]) -> None:
    """Readings and troubles follow from the bytes, never from the reads they came in."""

    def heard(pieces: list[bytes]) -> list[object]:
        driver = _lines()
        outs: list[Out] = [
            driver.start(0),
            *(driver.feed(p, 1) for p in pieces),
            driver.feed(b"\n285.3\n", 1),
        ]
        rows = [
            (repr(v), int(f)) for o in outs for v, f in zip(o.readings.value, o.readings.flags, strict=True)
        ]
        return [rows, [(t.text, t.count) for o in outs for t in o.troubles]]

    ends = sorted(min(p, len(stream)) for p in places)
    pieces = [stream[a:b] for a, b in zip([0, *ends], [*ends, len(stream)], strict=True)]
    assert heard(pieces) == heard([stream])


def test_a_decimal_comma_is_never_guessed_and_told() -> None:
    """What 12,5 V means is for the bench file to say; what would make it a reading is in the trouble."""
    driver = _lines()
    driver.start(0)
    out = driver.feed(b"\n12,5 V\n12,6 V\n", 0)
    assert len(out.readings) == 0
    (told,) = driver.tick(driver.wake_ns or 0).troubles
    assert told.text == (
        "12 bytes that are no reading: a comma between digits; if it is the decimal sign, "
        'write decimal = "comma" in the bench file; they begin “12,5 V12,6 V”'
    )


@pytest.mark.parametrize("line", ["12,5,6 V", "1,234.5 V", "12,5 parrots", "x,y"])
def test_other_commas_are_not_explained_so(line: str) -> None:
    """Where a decimal comma would not make a reading of it either."""
    driver = _lines()
    driver.start(0)
    driver.feed(b"\n" + line.encode() + b"\n", 0)
    (told,) = driver.tick(driver.wake_ns or 0).troubles
    assert "comma" not in told.text


def test_a_decimal_comma_that_is_described_is_read() -> None:
    """Exactly as the point would be; a comma that separates words stays one; other lines are junk as ever."""
    lines = b"\n12,5 V\n-0,1 mV DC, HOLD\n1,0,5 V\nOL V\n12.5 V\n" + b"285,3 V\n" * 60
    driver = _lines(decimal="comma")
    driver.start(0)
    out = driver.feed(lines, 0)
    assert out.readings.value.tolist()[:2] == [12.5, -0.0001]
    assert out.readings.value.tolist()[3:] == [12.5, *[285.3] * 60]
    assert out.readings.resolution.tolist()[:2] == [0.1, 0.0001]
    assert out.readings.flags.tolist()[:3] == [0, Flag.HOLD, Flag.OVERLOAD]
    assert [t.count for t in out.troubles] == [len("1,0,5 V")]
    described = _lines(decimal="comma", pattern=r"(?P<value>[0-9.]+)(?P<unit>V)")
    described.start(0)
    assert described.feed(b"\n12,5V\n", 0).readings.value.tolist() == [12.5]


def test_every_mistake_in_a_bench_entry_is_told_at_once() -> None:
    """Key by key, with what to write instead."""
    with pytest.raises(DriverError) as failed:
        _lines(
            patern="x", every="x", request="D", pattern="(a+)+", terminator="foo", repeats=99,
            resolution="abc", units={"x": "foo"}, strip_high_bit=1,
        )  # fmt: skip
    told = str(failed.value)
    for part in (
        "did you mean pattern?", "every: write a time", "pattern: ", "terminator: “foo” is none of",
        "repeats: 99", "resolution: write one count", "units: “foo”", "strip_high_bit: write true or false",
    ):  # fmt: skip
        assert part in told
    assert all(line.startswith("meter A: ") for line in told.splitlines())


def test_the_shipped_descriptions_are_read_by_shape() -> None:
    """All digits are alike to them: decoding does not fall back to one line at a time."""
    from benchtui_drivers.lines_plan import read_plan
    from benchtui_drivers.lines_shipped import names

    assert names() == ("number", "value-unit")
    for name in names():
        reader = read_plan(DriverOptions("A", Unit.V, {"description": name})).reader
        assert reader._by_shape


@pytest.mark.parametrize(
    ("line", "value"),
    [
        (b"285.3", 285.3), (b"-0.5", -0.5), (b"+2.853E+02", 285.3), (b"- 12", -12.0), (b"OL", None),
        (b"0.OL", None), (b"0L", None), (b"OVER", None),
    ],
)  # fmt: skip
def test_a_plain_number_a_line(line: bytes, value: float | None) -> None:
    """NR1 to NR3, and over range; a word beside the number is no reading."""
    driver = open_driver("lines", DriverOptions("A", Unit.V, {"description": "number"}))
    driver.start(0)
    r = driver.feed(b"\n" + line + b"\r\n" + line + b" V\r\n", 1).readings
    assert len(r) == 1
    assert (None if r.flags[0] & Flag.OVERLOAD else float(r.value[0])) == value
