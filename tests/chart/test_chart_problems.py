"""Charts with mistakes: each mistake is one clear message with its place, all of them at once."""

from __future__ import annotations

import pytest

from benchtui.chart.chart_file import read_chart
from benchtui.model.errors import ChartError, Problem
from benchtui.model.notes import plain

HEAD = """\
[set]
name = "Saltmarsh Six"
mains = "230 V"
tolerance = "10 %"

[[point]]
name = "B+1"
nominal = "285 V"

[[point]]
name = "heater"
nominal = "6.3 Vac"

"""
FIRST_LINE = HEAD.count("\n") + 1


def problems(text: str) -> list[Problem]:
    with pytest.raises(ChartError) as caught:
        read_chart(text, "c.toml")
    return caught.value.problems


POINT = '[[point]]\nname = "P"\n'
GLOW = '[[glow]]\nname = "G"\n'
NEEDS = 'strikes = "65 V .. 90 V"\nholds = "50 V .. 65 V"\n'
DERIVED = '[[derived]]\nname = "D"\n'
PART = '[[part]]\nname = "R1"\n'

ONE_MISTAKE = [
    # text, line after the first, key, words
    (POINT + 'nominal = "285 V"\nlimt = "350 V"', 3, "point[3].limt", "did you mean `limit`?"),
    (POINT + 'nominl = "285 V"\ntolerance = "5 %"', 2, "point[3].nominl", "did you mean `nominal`?"),
    (POINT + 'nominal = "285 V"\ncolour = "red"', 3, "point[3].colour", "known here are"),
    (
        POINT + "nominal = 285",
        2,
        "point[3].nominal",
        'write it in quotes with its unit, like nominal = "285 V"',
    ),
    (POINT + 'nominal = "285"', 2, "point[3].nominal", "no unit"),
    (POINT + 'nominal = "285,5 V"', 2, "point[3].nominal", "`285.5 V`"),
    (POINT + "nominal = true", 2, "point[3].nominal", "is true"),
    (POINT + "nominal = 2020-01-01", 2, "point[3].nominal", "a date"),
    (POINT + 'nominal = ["285 V"]', 2, "point[3].nominal", "a list"),
    (POINT + 'nominal = "glowing"', 2, "point[3].nominal", '"lit" or "out"'),
    (POINT + 'nominal = "glowing"\ntolerance = "±5 V"', 2, "point[3].nominal", '"lit" or "out"'),
    (POINT + 'nominal = "285"\ntolerance = "±5 V"', 2, "point[3].nominal", "no unit"),
    (POINT + 'nominal = "30 s"', 2, "point[3].nominal", "is a time"),
    (POINT, 0, "point[3].nominal", "is missing"),
    (POINT + "seen = true", 0, "point[3].nominal", '"lit" or "out"'),
    ('[[point]]\nnominal = "285 V"', 0, "point[3].name", "is missing"),
    ('[[point]]\nname = ""\nnominal = "285 V"', 1, "point[3].name", "is empty"),
    ('[[point]]\nname = "P "\nnominal = "285 V"', 1, "point[3].name", "space"),
    ('[[point]]\nname = "b+1"\nnominal = "285 V"', 1, "point[3].name", "name of the point in line 6 already"),
    ('[[point]]\nname = "a\\u001b[2J"\nnominal = "285 V"', 1, "point[3].name", "cannot be seen"),
    ('[[point]]\nname = "a\\u202eb"\nnominal = "285 V"', 1, "point[3].name", "cannot be seen"),
    ('[[point]]\nname = "a\\nb"\nnominal = "285 V"', 1, "point[3].name", "several lines"),
    (f'[[point]]\nname = "{"x" * 61}"\nnominal = "285 V"', 1, "point[3].name", "longer than 60"),
    ("[[point]]\nname = 7\nnominal = '285 V'", 1, "point[3].name", "is the number 7"),
    (
        POINT + 'nominal = "285 Vac"\nlimit = "350 V"\nsurge = "400 V for 30 s"',
        2,
        "point[3].nominal",
        "`285 V`",
    ),
    (POINT + 'nominal = "6.3 Vac"\nlow = "5.7 Vac"\nhigh = "6.9 V"', 4, "point[3].high", "`6.9 Vac`"),
    (POINT + 'nominal = "6.3 Vac"\nrange = "25 V"', 3, "point[3].range", "AC volts"),
    (POINT + 'nominal = "6.3 Vac"\ncurrent = "0.3 A"', 3, "point[3].current", "an AC current"),
    (POINT + 'nominal = "6.3 Vac"\nripple = "1 Vac"', 3, "point[3].ripple", "DC volts"),
    (POINT + 'nominal = "20 mA"\nrange = "25 V"', 3, "point[3].range", "in volts"),
    (POINT + 'nominal = "285 V"\nripple = "8 V"', 3, "point[3].ripple", "AC volts"),
    (POINT + 'nominal = "-6.3 Vac"', 2, "point[3].nominal", "without the minus"),
    (POINT + 'unit = "volts"', 2, "point[3].unit", "no unit of a point"),
    (POINT + 'nominal = "285 V"\nunit = "Vac"', 2, "point[3].nominal", "its unit says AC volts"),
    (POINT + 'tolerance = "5 %"\nunit = "V"', 2, "point[3].tolerance", "needs a nominal"),
    (
        POINT + 'nominal = "9 V"\ntolerance = "5 %"\nlow = "8 V"',
        3,
        "point[3].tolerance",
        "either a tolerance",
    ),
    (POINT + 'nominal = "9 V"\ntolerance = "5"', 3, "point[3].tolerance", "no unit"),
    (POINT + 'nominal = "9 V"\ntolerance = "±1 Vac"', 3, "point[3].tolerance", "AC volts"),
    (POINT + 'nominal = "0 V"', 2, "point[3].nominal", 'add low = "-0.5 V" and high = "0.5 V"'),
    (POINT + 'nominal = "0 Vac"', 2, "point[3].nominal", 'add high = "0.5 Vac"'),
    (POINT + 'nominal = "0 V"\ntolerance = "5 %"', 2, "point[3].nominal", "part of 0"),
    (POINT + 'low = "9 V"\nhigh = "8 V"', 2, "point[3].low", "swap"),
    (POINT + 'nominal = "7 V"\nlow = "8 V"\nhigh = "9 V"', 2, "point[3].nominal", "below low, 8 V"),
    (POINT + 'nominal = "10 V"\nhigh = "9 V"', 2, "point[3].nominal", "above high, 9 V"),
    (POINT + 'nominal = "285 V"\nlimit = "300 V"', 3, "point[3].limit", "what the band allows, 313.5 V"),
    (POINT + 'nominal = "-12 V"\nlimit = "-13 V"', 3, "point[3].limit", "what the band allows, -13.2 V"),
    (POINT + 'nominal = "285 V"\nlimit = "-350 V"', 3, "point[3].limit", "more than 0"),
    (POINT + 'nominal = "285 V"\nlimit = "0 V"', 3, "point[3].limit", "leave it out"),
    (
        POINT + 'nominal = "9 V"\nlimit = "20 V"\nsurge = "15 V for 3 s"',
        4,
        "point[3].surge",
        "less than the limit, 20 V",
    ),
    (POINT + 'nominal = "9 V"\nsurge = "15 V for 3 s"', 3, "point[3].surge", "needs a limit"),
    (POINT + 'nominal = "9 V"\nlimit = "10 V"\nsurge = "15 V"', 4, "point[3].surge", "for how long"),
    (POINT + 'nominal = "9 V"\nfollows_mains = "yes"', 3, "point[3].follows_mains", "true or false"),
    (POINT + 'nominal = "9 V"\nmoves = "program"', 3, "point[3].moves", '"programme"'),
    (POINT + 'nominal = "9 V"\nseen = true', 3, "point[3].seen", "no volts"),
    (POINT + 'nominal = "9 V"\nbleed = "60"', 3, "point[3].bleed", "`60 s`"),
    (POINT + 'nominal = "6 Vac"\nbleed = "60 s"', 3, "point[3].bleed", "DC volts"),
    (POINT + 'nominal = "lit"\nlimit = "5 V"', 3, "point[3].limit", "lit or out"),
    (POINT + 'nominal = "9 V"\nthrough = "47 kohm"', 3, "point[3].through", "needs fed_from"),
    (POINT + 'nominal = "9 V"\nfed_from = "B+1"\nthrough = "47 V"', 4, "point[3].through", "a resistance"),
    (POINT + 'nominal = "9 V"\nfed_from = "B+1"\nthrough = "0 ohm"', 4, "point[3].through", "more than 0"),
    (POINT + 'nominal = "9 V"\nfed_from = "B+l"', 3, "point[3].fed_from", "Did you mean `B+1`?"),
    (POINT + 'nominal = "9 V"\nfed_from = "P"', 3, "point[3].fed_from", "`P` is fed from `P`"),
    (POINT + 'nominal = "9 Vac"\nfed_from = "B+1"', 3, "point[3].fed_from", "is a DC point"),
    (POINT + 'nominal = "9 V"\nsource_resistance = "lots"', 3, "point[3].source_resistance", "no quantity"),
    ('[[point]]\nname = "Mains"\nnominal = "230 V"', 2, "point[3].nominal", "`230 Vac`"),
    (
        '[[point]]\nname = "mains"\nnominal = "240 Vac"',
        2,
        "point[3].nominal",
        "differs from the mains in [set], 230 Vac",
    ),
    ('[point2]\nname = "x"', 0, "point2", "did you mean `point`?"),
    (GLOW + 'holds = "50 V .. 65 V"', 0, "glow[1].strikes", "is missing"),
    (GLOW + 'strikes = "65 V .. 90 V"', 0, "glow[1].holds", "is missing"),
    (GLOW + 'strikes = "90 V .. 65 V"\nholds = "50 V .. 65 V"', 2, "glow[1].strikes", "upside down"),
    (GLOW + 'strikes = "65 V .. 90 V"\nholds = "65 V .. 50 V"', 3, "glow[1].holds", "upside down"),
    (
        GLOW + 'strikes = "65 V .. 90 V"\nholds = "70 V .. 95 V"',
        3,
        "glow[1].holds",
        "less than it strikes at",
    ),
    (GLOW + 'strikes = "65 V"\nholds = "50 V .. 65 V"', 2, "glow[1].strikes", "no range"),
    (GLOW + 'strikes = "65 V .. 90 V"\nholds = "50 Vac .. 65 Vac"', 3, "glow[1].holds", "another unit"),
    (GLOW + NEEDS + 'nominal = "150 V"\nseen = true', 5, "glow[1].seen", "no volts"),
    (GLOW + NEEDS + 'fed_from = "heater"', 2, "glow[1].strikes", "in Vac"),
    (GLOW + NEEDS + 'nominal = "lit"\ntolerance = "5 %"', 5, "glow[1].tolerance", "lit or out"),
    (GLOW + NEEDS + 'current = "30 mA .. 5 mA"', 4, "glow[1].current", "upside down"),
    (GLOW + NEEDS + 'current = "5 V .. 30 V"', 4, "glow[1].current", "a DC current"),
    (PART + 'kind = "resistor"\nvalue = "2.2 uF"', 3, "part[1].value", "a resistance"),
    (PART + 'kind = "resister"', 2, "part[1].kind", 'Did you mean "resistor"?'),
    (PART + 'kind = "valve"\nvalue = "6 V"', 3, "part[1].value", "no meaning for a valve"),
    (PART + 'kind = "capacitor"\nvalue = "100"', 3, "part[1].value", "could be 10 pF"),
    (PART + 'kind = "resistor"\ntolerance = "5 %"', 3, "part[1].tolerance", "needs a value"),
    (PART + 'kind = "resistor"\nvalue = "1k"\nfrom = "B+1"', 0, "part[1].to", "two places"),
    (PART, 0, "part[1].kind", "is missing"),
    (PART + 'kind = "valve"\n' + PART + 'kind = "valve"', 4, "part[2].name", "name of the part in line 14"),
    (DERIVED + 'uses = { k = "B+1" }\nformula = "k / (R * ohm)"', 3, "derived[1].formula", "`R` is neither"),
    (DERIVED + 'uses = { k = "B+1" }\nformula = "k + 3 * mA"', 3, "derived[1].formula", "do not go together"),
    (DERIVED + 'uses = { k = "B+1", h = "heater" }\nformula = "k + h"', 3, "derived[1].formula", "AC volts"),
    (DERIVED + 'uses = { k = "B+1" }\nformula = "k ^ 3"', 3, "derived[1].formula", "V^3"),
    (
        DERIVED + 'uses = { k = "B+1" }\nformula = "k / (3 * ohm)"\nlimit = "48 V"',
        4,
        "derived[1].limit",
        "a DC current",
    ),
    (DERIVED + 'uses = { k = "B+9" }\nformula = "k"', 2, "derived[1].uses.k", "names no point"),
    (DERIVED + 'uses = { V = "B+1" }\nformula = "V"', 2, "derived[1].uses.V", "name of a unit"),
    (DERIVED + 'uses = { "B+1" = "B+1" }\nformula = "k"', 2, 'derived[1].uses."B+1"', "letters, digits"),
    (DERIVED + 'uses = { k = "B+1", x = "B+1" }\nformula = "k"', 2, "derived[1].uses", "does not use"),
    (DERIVED + 'uses = "B+1"\nformula = "k"', 2, "derived[1].uses", "write it like"),
    (DERIVED + 'formula = "k"', 0, "derived[1].uses", "must say which points"),
    (DERIVED + 'uses = { k = "B+1" }', 0, "derived[1].formula", "is missing"),
    (
        '[[derived]]\nname = "B+1"\nuses = { k = "B+1" }\nformula = "k"',
        1,
        "derived[1].name",
        "line 6 already",
    ),
    ("[glow]\nname = 'x'", 0, "glow", "two brackets"),
    ("[[extra]]\nname = 'x'", 0, "extra", "not a known key"),
]


def test_a_formula_is_read_although_its_points_are_wrong() -> None:
    """Both mistakes in one go: the point that is none, and the bracket that is missing."""
    found = problems(HEAD + DERIVED + 'uses = { k = "B+9" }\nformula = "k / (270 * ohm"')
    assert [problem.key for problem in found] == ["derived[1].uses.k", "derived[1].formula"]
    assert "a closing bracket is missing" in found[1].what


@pytest.mark.parametrize(("text", "line", "key", "words"), ONE_MISTAKE)
def test_one_mistake_is_one_message(text: str, line: int, key: str, words: str) -> None:
    """Each mistake gives exactly one problem, on its line, with its key and what to do."""
    (found,) = problems(HEAD + text)

    assert (found.file, found.line, found.key) == ("c.toml", FIRST_LINE + line, key)
    assert words in found.what
    assert plain(str(found)) == str(found)


SET_MISTAKES = [
    ('name = "x"\nmains = "230 V DC"', "set.mains", "is AC"),
    ('name = "x"\nmains = "0 V"', "set.mains", "more than 0"),
    ('name = "x"\nmeter = "20"', "set.meter", "`20 kohm/V` or `11 Mohm`"),
    ('name = "x"\nrectifier = "indirekt"', "set.rectifier", 'Did you mean "indirect"?'),
    ('name = "x"\nchassis = true', "set.chassis", '"isolated" or "live"'),
    ('name = "x"\ntolerance = "±5 V"', "set.tolerance", "percentage"),
    ('mains = "230 V"', "set.name", "is missing"),
    ('nam = "x"', "set.nam", "did you mean `name`?"),
]


@pytest.mark.parametrize(("text", "key", "words"), SET_MISTAKES)
def test_mistakes_in_the_set(text: str, key: str, words: str) -> None:
    """The set's keys are as strict as a point's."""
    (found,) = problems(f'[set]\n{text}\n[[point]]\nname = "B+1"\nunit = "V"\n')

    assert found.key == key
    assert words in found.what


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        ('[set]\nname = "x"', "point", "at least one [[point]]"),
        ('[[point]]\nname = "B+1"\nunit = "V"', "set", "begin with [set]"),
        ('set = 3\n[[point]]\nname = "B+1"\nunit = "V"', "set", "is the number 3"),
        ('point = "B+1"\n[set]\nname = "x"', "point", "[[point]]"),
        ('[set]\nname = "x"\n[[points]]\nname = "B+1"', "points", "did you mean `point`?"),
    ],
)
def test_mistakes_in_the_frame(text: str, key: str, words: str) -> None:
    """A file without a set or without a point says so, once."""
    (found,) = problems(text)

    assert found.key == key
    assert words in found.what


TEN = """\
# ten mistakes
[set]
name = "Saltmarsh Six"
mains = "230 V"
rectifer = "direct"
tolerance = "10 %"

[[point]]
name = "B+1"
nominal = "285 V"
fed_from = "screen"
limit = "300 V"

[[point]]
name = "B+2"
nominal = "240,5 V"
fed_from = "B+l"

[[point]]
name = "screen"
where = '''C22 on V3,
not = "a key", on pin 8'''
fed_from = "B+1"
low = "203 V"
high = "167 V"

[[point]]
name = "heater"
nominal = "6.3 Vac"
range = "25 V"

[[point]]
name = "bias"
nominal = "0 V"

[[glow]]
name = "pilot\\u001b[31m"
strikes = "90 V .. 65 V"
holds = "50 V .. 65 V"
nominal = "lit"
"""


def test_a_chart_with_ten_mistakes_gets_ten_messages() -> None:
    """All problems come at once, in the order of the file, each on its line, in plain words."""
    found = problems(
        TEN.replace("'''C22 on V3,\nnot = \"a key\", on pin 8'''", '"C22 on V3, pin 8" # not = "a key"')
    )

    assert [(p.line, p.key) for p in found] == [
        (5, "set.rectifer"),
        (11, "point[1].fed_from"),
        (12, "point[1].limit"),
        (16, "point[2].nominal"),
        (17, "point[2].fed_from"),
        (23, "point[3].low"),
        (29, "point[4].range"),
        (33, "point[5].nominal"),
        (36, "glow[1].name"),
        (37, "glow[1].strikes"),
    ]
    assert "`B+1` is fed from `screen`, which is fed from `B+1`" in found[1].what
    assert all(p.what.endswith((".", "?")) and len(p.what) < 200 for p in found)


def test_a_text_over_two_lines_moves_no_line() -> None:
    """A multi-line text that looks like keys is one problem of its own, and what follows keeps its line."""
    found = problems(TEN)

    assert (21, "point[3].where") in [(p.line, p.key) for p in found]
    assert (24, "point[3].low") in [(p.line, p.key) for p in found]
    assert len(found) == 11


def test_two_circles_are_two_problems() -> None:
    """Each circle in the supply tree is told once, at its first point; what hangs on it is not."""
    text = "[set]\nname = 'x'\n"
    for name, feed in [("a", "b"), ("b", "c"), ("c", "b"), ("d", "e"), ("e", "d"), ("f", "a")]:
        text += f"[[point]]\nname = '{name}'\nunit = 'V'\nfed_from = '{feed}'\n"
    found = problems(text)

    assert [(p.line, p.key) for p in found] == [(10, "point[2].fed_from"), (18, "point[4].fed_from")]
