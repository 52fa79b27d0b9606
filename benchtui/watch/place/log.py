"""The append-only log of events, and the one place that writes it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from benchtui.model.findings import Event, Finding, Folding
from benchtui.model.units import Unit


class Log:
    """Opens, amends, merges, closes and withdraws findings; every call becomes one event."""

    def __init__(self, folding: Folding) -> None:
        self._folding = folding
        self._seq = 0
        self._next = 1
        self.new: list[Event] = []
        self.mark_at: Callable[[float | None], str | None] = lambda at_s: None
        """What was done at a mark."""
        self.unit_of: Callable[[str], Unit | None] = lambda point: None
        """The unit a point is read in, as far as it is known."""

    def take_new(self) -> list[Event]:
        new, self.new = self.new, []
        return new

    def open(
        self, at_ns: int, kind: str, point: str | None, start_ns: int, end_ns: int | None = None,
        evidence: Mapping[str, Any] | None = None,
    ) -> int:  # fmt: skip
        number = self._next
        self._next += 1
        patch = {
            "kind": kind, "point": point, "start_ns": start_ns, "end_ns": end_ns,
            "evidence": self._complete(point, evidence or {}),
        }  # fmt: skip
        self._write(at_ns, number, "open", patch)
        return number

    def rename(
        self, at_ns: int, finding: int, kind: str, point: str, start_ns: int, evidence: Mapping[str, Any]
    ) -> None:
        """Another point turns out to be the cause of what has been told: nothing of the former one stays."""
        evidence = {**dict.fromkeys(self.get(finding).evidence), **self._complete(point, evidence)}
        self._write(
            at_ns, finding, "amend",
            {"kind": kind, "point": point, "start_ns": start_ns, "evidence": evidence},
        )  # fmt: skip

    def _complete(self, point: str | None, evidence: Mapping[str, Any]) -> dict[str, Any]:
        """With the point's unit and what was done at the mark that it followed."""
        unit = self.unit_of(point) if point is not None else None
        done = self.mark_at(evidence.get("after_mark"))
        return {
            **evidence,
            **({"unit": unit.symbol} if unit else {}),
            **({} if done is None else {"mark": done}),
        }

    def amend(self, at_ns: int, finding: int, **patch: Any) -> None:
        """Changes it; nothing happens where it says so already."""
        found = self._folding.get(finding)
        known = {**found.evidence, **{key: getattr(found, key) for key in patch if key != "evidence"}}
        said = {**patch.get("evidence", {}), **{key: patch[key] for key in patch if key != "evidence"}}
        if any(key not in known or known[key] != value for key, value in said.items()):
            self._write(at_ns, finding, "amend", patch)

    def name_also(self, at_ns: int, finding: int, point: str) -> None:
        """Names one more point in a finding of another; nothing happens where it is named already."""
        found = self.get(finding)
        if point != found.point and point not in found.evidence["also"]:
            self.amend(at_ns, finding, evidence={"also": [*found.evidence["also"], point]})

    def close(self, at_ns: int, finding: int, end_ns: int, **patch: Any) -> None:
        """Ends it; nothing happens where it has ended already."""
        if self._folding.get(finding).state == "open":
            self._write(at_ns, finding, "close", {"end_ns": end_ns, **patch})

    def merge(self, at_ns: int, finding: int, into: int) -> None:
        if self._folding.get(finding).listed:
            self._write(at_ns, finding, "merge", {"into": into})

    def withdraw(self, at_ns: int, finding: int, why: str) -> None:
        if self._folding.get(finding).listed:
            self._write(at_ns, finding, "withdraw", {"why": why})

    def get(self, finding: int) -> Finding:
        return self._folding.get(finding)

    def still_open(self) -> list[Finding]:
        return [f for f in self._folding.listed() if f.state == "open"]

    def _write(self, at_ns: int, finding: int, act: str, patch: dict[str, Any]) -> None:
        event = Event(self._seq, at_ns, finding, act, patch)
        self._seq += 1
        self._folding.apply([event])
        self.new.append(event)
