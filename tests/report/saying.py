"""What no sentence may hold, whatever was found."""

from __future__ import annotations

import re

from benchtui.chart.chart import Chart
from benchtui.model.findings import Finding
from benchtui.report.say import sentence

NEVER = re.compile(r"\b(safe|dead|discharged|isolated|ok to touch|fixed)\b", re.IGNORECASE)
NO_NUMBER = re.compile(r"\b(nan|inf|None)\b")


def assert_sayable(finding: Finding, chart: Chart) -> str:
    """The sentence of a finding, printable, of one line, and without the words that promise safety."""
    text = sentence(finding, chart)
    assert text.strip()
    assert text.isprintable(), ascii(text)
    assert len(text) <= 400
    assert not NEVER.search(text), text
    assert not NO_NUMBER.search(text), text
    return text
