"""Findings, events and the summary as lines of JSON: the promise to other programs."""

from __future__ import annotations

import json
from types import MappingProxyType

import numpy as np

from benchtui.chart.chart import Chart
from benchtui.model.findings import Event, Finding
from benchtui.report.lines import event_line, finding_line, summary_line
from tests.watch.shapes import away, bleeds, flat, switched, warm_up
from tests.watch.streams import Judged, Timeline, ac, dc

KEYS = {"id", "kind", "point", "start_s", "end_s", "found_s", "as_of_s", "severity", "text", "evidence"}
POINT_KEYS = {"unit", "state", "decision", "value", "settled", "drift_per_h", "predicted", "bleed", "why"}
TREE = Chart(
    "a set", mains=230.0, points=(ac("mains", 230.0), dc("B+1", 285.0), dc("B+2", 240.0, fed_from="B+1"))
)


def a_session() -> Judged:
    time = Timeline(TREE, 260.0)
    time.meter("mains", switched(flat(230.0), 5.0, 200.0))
    time.meter("B+1", bleeds(away(warm_up(285.0, 5.0), 120.0, 124.0, -0.4), 200.0, 9.0))
    time.meter("loose end", flat(12.0))
    return time.judged()


def test_a_finding_is_a_line_with_the_promised_keys_and_times_in_seconds() -> None:
    """Keys and their meaning are those of the design; nothing is NaN."""
    judged = a_session()
    lines = [finding_line(f, TREE) for f in judged.listed]
    assert {"power_on", "dropout", "power_off"} <= {line["kind"] for line in lines}
    for line, finding in zip(lines, judged.listed, strict=True):
        assert set(line) == KEYS
        assert line["start_s"] == finding.start_ns / 1e9
        assert line["end_s"] is None or line["end_s"] >= line["start_s"]
        assert line["start_s"] <= line["found_s"] <= line["as_of_s"] <= 260.0
        json.dumps(line, allow_nan=False)


def test_findings_are_listed_in_the_order_in_which_they_were_announced() -> None:
    """`found_s` never falls from one listed finding to the next."""
    found = [f.found_ns for f in a_session().listed]
    assert found == sorted(found)


def test_an_event_is_a_line_whose_times_are_seconds() -> None:
    """`start_ns` and `end_ns` of a patch become `start_s` and `end_s`, null where there is no end yet."""
    event = Event(0, 1_500_000_000, 1, "open", {
        "kind": "gap", "point": "B+1", "start_ns": 1_000_000_000, "end_ns": None,
        "evidence": {"meter": "A", "value": np.float64(2.5), "bad": float("nan")},
    })  # fmt: skip
    assert event_line(event) == {
        "seq": 0, "at_s": 1.5, "finding": 1, "act": "open",
        "patch": {"kind": "gap", "point": "B+1", "start_s": 1.0, "end_s": None,
                  "evidence": {"meter": "A", "value": 2.5, "bad": None}},
    }  # fmt: skip


def test_numbers_that_json_does_not_have_become_null() -> None:
    """NaN and infinity never reach another program, at any depth."""
    evidence = MappingProxyType({"meter": "A", "list": [1.0, float("inf")], "deep": {"x": float("nan")}})
    line = finding_line(Finding(1, "gap", "B+1", 0, None, 1, 1, evidence), TREE)
    assert line["evidence"] == {"meter": "A", "list": [1.0, None], "deep": {"x": None}}


def test_the_summary_names_every_point_with_the_promised_keys() -> None:
    """All points of the chart, measured or not, and those that only the readings name."""
    line = summary_line(a_session().bank)
    json.dumps(line, allow_nan=False)
    assert set(line) == {"kind", "until_s", "points"}
    assert line["until_s"] == 260.0
    assert list(line["points"]) == ["mains", "B+1", "B+2", "loose end"]
    for point in line["points"].values():
        assert set(point) == POINT_KEYS
        assert point["decision"] in ("inside", "outside", "undecided", "not judged")
        for key in ("settled", "predicted", "bleed"):
            assert point[key] is None or None not in point[key].values()
    assert line["points"]["B+1"]["state"] == "below"
    assert line["points"]["B+2"]["why"] == "not measured"


def test_a_summary_before_the_first_reading_stands() -> None:
    """Nothing was read: every point is unknown and not judged, with a reason."""
    time = Timeline(TREE, 0.0)
    points = summary_line(time.judged().bank)["points"]
    assert all((p["state"], p["decision"]) == ("unknown", "not judged") and p["why"] for p in points.values())
