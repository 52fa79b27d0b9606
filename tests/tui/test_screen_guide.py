"""The guide's page about the screen names all that stands there."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from benchtui.model.findings import SEVERITY
from benchtui.tui.draw.alarm import word
from benchtui.tui.screens.keys import BOTH, NEAR
from benchtui.tui.screens.mark import KINDS

from .golden import SHOTS

PAGE = (files("benchtui") / "guide" / "screen.md").read_text(encoding="utf-8")


def test_every_sign_is_explained() -> None:
    """Those of all scenes, and those that the board's contract names."""
    shown = {row.sign for shot in SHOTS for row in shot.board().rows} | set("=?^v~x#") | {"!!"}
    rows = [line.split(" | ")[0] for line in PAGE.splitlines() if line.startswith("| `")]
    told = {sign for row in rows for sign in re.findall(r"`([^`]+)`", row)}
    assert shown - {""} <= told


@pytest.mark.parametrize("kind", sorted(k for k, s in SEVERITY.items() if s in ("fault", "warning", "meter")))
def test_every_kind_of_finding_is_explained(kind: str) -> None:
    """By the word that the list has for it."""
    shown = {"chatter": "restless", "limit": "rating passed"}.get(kind, word(kind))
    assert f"`{shown}`" in PAGE


def test_every_kind_of_mark_and_every_key_is_named() -> None:
    """The keys of the sheet, whatever else the page says of them."""
    assert [kind for kind in KINDS.values() if kind not in PAGE] == []
    keys = {key for named, _ in (*BOTH, *NEAR) for key in named.split()}
    assert {key for key in keys - {"A", "F", "q"} if f"`{key}`" not in PAGE} == set()


def test_it_promises_nothing() -> None:
    """None of the words that the program never says of a set."""
    assert not re.findall(r"\b(safe|dead|discharged|fixed|ok to touch)\b", PAGE.lower())
