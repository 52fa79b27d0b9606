"""Where each key of a TOML text stands, checked against the standard library's reader."""

from __future__ import annotations

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.chart.places import Path, places

from .toml_maker import documents, paths_of

TRICKY = '''# a comment with [brackets]
[set] # not = a key
name = """a
[not.a.table]
b = 2 \\" """
a.b."c d".e = [ 1,
 [2, 3], # ], "
 { x = "}", y.z = 1979-05-27 07:32:00 },
]

[[point]]
name = 'x # ] y'
[point.glow]
k = 5
[[point]]
[[point.sub]]
t = \'\'\'a
\'\'\'
u = 1
'''


def test_strings_lists_and_dotted_keys_do_not_fool_it() -> None:
    """Multi-line strings, lists over lines, inline tables and dotted keys each have their own line."""
    found = places(TRICKY)

    assert found["set", "name"] == 3
    assert found["set", "a", "b", "c d", "e", 1] == 7
    assert found["set", "a", "b", "c d", "e", 2, "y", "z"] == 8
    assert found["point", 0] == 11
    assert found["point", 0, "glow", "k"] == 14
    assert found["point", 1] == 15
    assert found["point", 1, "sub", 0, "u"] == 19
    assert set(found) == paths_of(tomllib.loads(TRICKY))


@given(documents())
@settings(max_examples=300, deadline=None)
def test_every_key_is_found_on_its_line(written: tuple[str, dict[Path, int]]) -> None:
    """For random TOML the paths are exactly those that the standard library reads, each on its line."""
    text, lines = written
    found = places(text)

    assert set(found) == paths_of(tomllib.loads(text))
    assert found == lines


@given(st.text(max_size=200), st.text(st.sampled_from("ab=[]{}\"'#.,\n1 "), max_size=60))
@settings(max_examples=400, deadline=None)
def test_no_text_makes_it_fail(text: str, near: str) -> None:
    """Whatever the text, it ends, and never names a line that is not there."""
    for given_text in (text, near):
        assert all(1 <= line <= given_text.count("\n") + 1 for line in places(given_text).values())
