"""Described lines: groups, maps, and patterns that could stall the program refused."""

from __future__ import annotations

import pytest

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
        (r"(?P<value>(\d+)+)", "repeats a group"),
        (r"(?P<value>(a|b)*)", "repeats a group"),
        (r"(\d)(?P<value>\1)", "backreference"),
        (r"\d+", "no group value"),
        (r"(?P<value>\d+)(?P<colour>x)", "colour"),
        (r"(?P<value>\d+", "no regular expression"),
        (r"(?P<value>.*.*.*.*.*.*.*.*.*)", "open-ended"),
    ],
)
def test_a_pattern_that_cannot_work_or_may_never_end_is_refused(pattern: str, why: str) -> None:
    """It is refused when the bench file is read, with the reason, not when an unlucky line comes."""
    with pytest.raises(ValueError, match=why):
        compiled(pattern)


@pytest.mark.parametrize(
    "pattern",
    [
        r"(?P<value>\d+)(?:V)?",
        r"\s*(?P<value>[+-]?\d{1,5}\.\d*)\s*(?P<unit>\S*)",
        r"\((?P<value>[()*+]?\d+)\)",
    ],
)
def test_ordinary_patterns_are_taken(pattern: str) -> None:
    """An optional group, repeats of one character or set, brackets that are meant as such."""
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
