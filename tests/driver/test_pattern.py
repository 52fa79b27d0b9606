"""Described lines: groups, maps, and patterns that could stall the program refused."""

from __future__ import annotations

import contextlib
import re
import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.driver.backtracking import ways
from benchtui.driver.pattern import Description, compiled
from benchtui.model.readings import Flag
from benchtui.model.units import Unit


def _described(pattern: str, **options: object) -> Description:
    return Description(compiled(pattern), **options)  # type: ignore[arg-type]


def test_the_groups_are_value_unit_prefix_flags_and_sign() -> None:
    """A line of 12 characters with all of them: sign, digits, prefix, unit, flags."""
    described = _described(
        r"(?P<sign>[+-])(?P<value>[\d.]{5})(?P<prefix>[ mk])(?P<unit>V|O)(?P<flags>[HBD ]{2})",
        units={"O": "ohm"},
        flags={"H": Flag.HOLD, "B": Flag.LOW_BATTERY},
    )
    line = b"-285.3mVHB"
    recipe = described.read(line)
    assert recipe is not None
    assert recipe.read(line) == (-0.2853, 0.0001)
    assert (recipe.unit, recipe.flags) == (Unit.V, Flag.HOLD | Flag.LOW_BATTERY)
    assert described.read(b"+47.50kO  ").unit is Unit.OHM  # type: ignore[union-attr]


def test_the_whole_line_must_fit() -> None:
    """A pattern is anchored at both ends; blanks around the line do not count."""
    described = _described(r"(?P<value>\d+)")
    assert described.read(b" 12 ") is not None
    assert described.read(b"12 x") is None


def test_an_overload_word_stands_in_the_group_value() -> None:
    """What stands for over range is the meter's own affair."""
    described = _described(r"(?P<value>\d+|\*{4})", overload=("****",))
    assert described.read(b"****").flags == Flag.OVERLOAD  # type: ignore[union-attr]


def test_a_letter_outside_ascii_does_not_shift_the_digits() -> None:
    """Digits are found behind a letter of two bytes."""
    line = "µ 12.5".encode()
    assert _described(r"(?P<prefix>µ) (?P<value>[\d.]+)").read(line).read(line)[0] == 12.5e-6  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("pattern", "why"),
    [
        (r"(\d)(?P<value>\1)", "backreference"),
        (r"\d+", "no group value"),
        (r"(?P<value>\d+)(?P<colour>x)", "colour"),
        (r"(?P<value>\d+", "no regular expression"),
    ],
)
def test_a_pattern_that_cannot_work_is_refused(pattern: str, why: str) -> None:
    """It is refused when the bench file is read, with the reason."""
    with pytest.raises(ValueError, match=why):
        compiled(pattern)


@pytest.mark.parametrize(
    ("pattern", "why"),
    [
        (r"(?P<value>(\d+)+)x", "repeats a group"),
        (r"(?P<value>(\d|\d\d)*)x", "repeats a group"),
        (r"(?P<value>(?:\d?){60})x", "repeats a group"),
        (r"(?P<value>(?:\d+){2,})x", "repeats a group"),
        (r"(?P<value>\d)(?=(\d+)+x)", "may have"),
        (r"(?P<value>\d)(?<!\d\d)", "may have"),
        (r"(?x)(?P<value>( \d + ) + )x", "may have"),
        (r"(?P<value>(?x: ( \d ) * ))x", "may have"),
        (r"(?P<value>(\d)(?(2)\d+|x))", "may have"),
        (r"(?P<value>\d)(?P=value)*", "may have"),
        (r"(?P<value>\d)(?#)*(\d*)*x", "may have"),
        (r"(?P<value>\d*\d*\d*\d*\d*)x", "ways"),
        (r"(?P<value>\d{0,80}\d{0,80}\d{0,80}\d{0,80})x", "ways"),
        (r"(?P<value>\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?\d?)x", "ways"),
        ("(?P<value>" + r"(?:\d|\d\d)" * 25 + ")x", "ways"),
        ("(?P<value>" + r"(?:\d\d?)?" * 20 + ")x", "ways"),
        (r"(?P<value>[\]0-9]*[])]*[^]]*\d*\(*)x", "ways"),
        (r"(?P<value>\d{,80}\d{0,}\d{1,}\d*\d*?)x", "ways"),
    ],
)  # fmt: skip
def test_a_pattern_that_may_never_end_is_refused(pattern: str, why: str) -> None:
    """Every way that is known to make Python's engine go back and forth; told when the file is read."""
    with pytest.raises(ValueError, match=why):
        compiled(pattern)


@pytest.mark.parametrize(
    ("pattern", "count"),
    [
        (r"\d\.\d", 1),
        (r"\d{1,5}", 5),
        (r"\d{5}", 1),
        (r"a?b?c?", 8),
        (r"a|b|c", 3),
        (r"(?:a|b)c?", 4),
        (r"(?:a?b?)?", 5),
        (r"\d*", 11),
        (r"\d*x\d*", 66),
        (r"\d*+x\d*+y?+", 1),
        (r"[*+?{]\*\(|[]|)]", 2),
        (r"{}|{a}|a{,}", 13),
    ],
)
def test_in_how_many_ways_ten_characters_can_be_tried(pattern: str, count: int) -> None:
    """Counted by hand: two repeats without an end share ten characters, or fewer, in 12 * 11 / 2 ways."""
    assert ways(pattern, 10) == count


@given(
    st.lists(st.sampled_from([*"19ab (){}[]^|*+?,.\\", r"\d", r"\s*", "{2,3}", "(?:", "(?P<value>", "*+"]))
)
def test_what_compiles_is_counted_or_refused(parts: list[str]) -> None:
    """Nothing that Python takes as a pattern trips the count."""
    source = "".join(parts)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            re.compile(source)
    except (re.error, OverflowError):
        return
    with contextlib.suppress(ValueError):
        assert ways(source, 10) >= 1


@pytest.mark.parametrize(
    "pattern",
    [
        r"(?P<value>\d+)(?:V)?",
        r"(?P<value>[+-]?\d{1,5}\.\d*)\s*(?P<unit>\S*)",
        r"\s*+(?P<value>[+-]?\d++\.\d*+)\s*+(?P<unit>[A-Za-z]*+)\s*+",
        r"\((?P<value>[()*+]?\d+)\)",
        r"(?P<value>[+-]?[0-9.]+|OL|----) *+(?P<prefix>[mk]?)(?P<unit>V|A|ohm) *+(?P<flags>.*)",
    ],
)
def test_ordinary_patterns_are_taken(pattern: str) -> None:
    """Options, repeats of one character or set, alternatives, brackets that are meant as such."""
    assert compiled(pattern).groupindex["value"]


@pytest.mark.parametrize(
    ("pattern", "alike"),
    [
        (r"(?P<value>\d{1,5})", True),
        (r"(?P<value>[0-9.]+) V", True),
        (r"(?P<value>[0-4]\d+)", False),
        (r"3(?P<value>\d+)", False),
        (r"(?P<value>[\x30-\x39]+)", False),
    ],
)
def test_a_pattern_that_knows_one_digit_from_another_is_noticed(pattern: str, alike: bool) -> None:
    """Only where all digits are alike to it may lines be read by their shape."""
    assert _described(pattern).digits_alike is alike
