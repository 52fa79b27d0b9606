"""Files that are no TOML: one problem, with its place, in plain words."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.chart.toml_text import MOST, load
from benchtui.model.errors import ChartError, Problem
from benchtui.model.notes import plain


def problem(text: str) -> Problem:
    with pytest.raises(ChartError) as caught:
        load(text, "c.toml")
    (found,) = caught.value.problems
    return found


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("[set]\nnominal = 285 V\n", 2, "put quotes round all of it"),
        ('[set]\nname = "x\nmains = "230 V"', 2, "closing quote is missing"),
        ('[set]\nname "x"', 2, "followed by ` = `"),
        ("a = 1\n\na = 2", 3, "second time"),
        ("[set]\n[set]", 2, "second time"),
        ("[[point]]\n[point]", 2, "second time"),
        ('[[point]\nname = "x"', 1, "]"),
        ("[set]\nname = ", 2, "value is not written right"),
        ('[set]\nwhere = "C:\\x"', 2, "single quotes"),
        ("a = [1, 2", 1, "closing ]"),
        ('a = "\x1b[31m"', 1, "cannot be seen"),
        ('a = """x\n\n', 3, "closing quote"),
        ("\x00", 1, "a line begins with a key"),
        ("[set]\nname = \u201cx\u201d", 2, "straight quotes"),
        ("a = {b = 1}\na.c = 2", 2, "closed above"),
    ],
)
def test_a_syntax_error_is_reported_alone_with_its_place(text: str, line: int, words: str) -> None:
    """What is no TOML is one problem with its line and what a person would do about it."""
    found = problem(text)

    assert found.line == line
    assert words in found.what
    assert found.what.startswith("cannot be read as TOML: ")
    assert plain(str(found)) == str(found)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = " + "[" * 5000, "too deep"),
        ("a = " + "1" * 5000, "too large"),
        ("a" + ".a" * 100_000 + " = 1", "more than 30 parts"),
        ('b = { "a"' + " . 'a'" * 40_000 + " = 1 }", "more than 30 parts"),
        ("#" * (MOST + 1), "longer than 300000 characters"),
    ],
)
def test_what_no_chart_can_be_is_one_problem_too(text: str, words: str) -> None:
    """Lists without end, numbers without end and files without end are refused, not followed."""
    assert words in problem(text).what


@pytest.mark.parametrize(
    "text", ["x = '" + "a.b c." * 100 + "'", "x = '" + "word " * 100 + "'", "#" * 1000, "# " + "." * 999]
)
def test_long_texts_are_no_long_keys(text: str) -> None:
    """Only a key of many parts is refused as one."""
    load(text, "c.toml")


@given(st.one_of(st.text(max_size=200), st.text(st.sampled_from("ab=[]{}\"'#.,\n1 \\-:T"), max_size=60)))
@settings(max_examples=500, deadline=None)
def test_no_text_makes_it_fail_otherwise(text: str) -> None:
    """Any text is TOML or one ChartError whose line exists."""
    found: list[Problem] = []
    try:
        load(text, "c.toml")
    except ChartError as error:
        found = error.problems

    assert all(p.line is None or 1 <= p.line <= text.count("\n") + 1 for p in found)
    assert all(plain(str(p)) == str(p) for p in found)
