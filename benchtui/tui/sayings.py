"""The text of a finding for a screen that has its point and its kind in columns of their own."""

from __future__ import annotations

from collections.abc import Callable

from benchtui.model.findings import Finding

from .draw.alarm import word

MOST = 4096


class Sayings:
    """Remembers texts, so that a sentence is made once for each change of a finding."""

    def __init__(self, sentence: Callable[[Finding], str]) -> None:
        self._sentence = sentence
        self._known: dict[tuple[int, int], str] = {}

    def whole(self, finding: Finding) -> str:
        """The sentence as it is."""
        key = (finding.id, finding.as_of_ns)
        if key not in self._known:
            if len(self._known) >= MOST:
                self._known.clear()
            self._known[key] = self._made(finding)
        return self._known[key]

    def _made(self, finding: Finding) -> str:
        """The sentence; the kind alone where a file's evidence lacks what the sentence needs.

        A screen under power must not end because of a text.
        """
        try:
            return self._sentence(finding)
        except (KeyError, TypeError, ValueError, IndexError):
            return word(finding.kind)

    def short(self, finding: Finding) -> str:
        """Without the name and the kind at its beginning."""
        return shortened(self.whole(finding), finding)


def shortened(text: str, finding: Finding) -> str:
    """A sentence without the name and the kind that it begins with."""
    if finding.point and text.startswith(finding.point):
        text = text[len(finding.point) :].lstrip(": ")
        for begin in (f"was {word(finding.kind)}", f"is {word(finding.kind)}", word(finding.kind)):
            if text.startswith(begin) and len(text) > len(begin):
                text = text[len(begin) :].lstrip(":;, ")
                break
    return text
