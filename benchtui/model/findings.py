"""Findings, the log of events they are folded from, and the folding."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

SEVERITY = {
    "power_on": "info",
    "power_off": "info",
    "settled": "info",
    "unsettled": "warning",
    "limit": "fault",
    "outside": "fault",
    "creep": "warning",
    "dropout": "fault",
    "step": "warning",
    "chatter": "fault",
    "drift": "warning",
    "departs": "fault",
    "starved": "fault",
    "fed_but_out": "fault",
    "mains": "info",
    "gap": "meter",
    "overload": "meter",
    "frozen": "meter",
    "function": "meter",
    "reversed": "meter",
    "garbled": "meter",
    "lost": "meter",
    "driver": "meter",
    "slow_bleed": "fault",
    "follows": "verdict",
    "trial": "verdict",
    "place": "verdict",
    "suspects": "verdict",
}
"""Kind -> severity: a promise to other programs."""

ACTS = ("open", "amend", "merge", "close", "withdraw")


@dataclass(frozen=True, slots=True)
class Event:
    """One line of the append-only log that findings are folded from."""

    seq: int
    """0, 1, 2, ... without holes."""
    at_ns: int
    """The instant on the timeline at which this became known; never falls from one event to the next."""
    finding: int
    act: str
    """One of ACTS. `open` carries kind, point, start_ns, end_ns, evidence; `merge` carries `into`."""
    patch: Mapping[str, Any]
    """Plain JSON values; `evidence` is merged key by key, everything else replaced."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a watcher saw, with its evidence. Times are nanoseconds since the session began."""

    id: int
    kind: str
    """A key of SEVERITY."""
    point: str | None
    start_ns: int
    end_ns: int | None
    """None while it lasts."""
    found_ns: int
    """When it was first announced."""
    as_of_ns: int
    """When it last changed."""
    evidence: Mapping[str, Any]
    state: str = "open"
    """open, closed, merged or withdrawn."""

    @property
    def severity(self) -> str:
        return SEVERITY[self.kind]

    @property
    def listed(self) -> bool:
        """False for findings that were merged into another or withdrawn."""
        return self.state in ("open", "closed")


class Folding:
    """Findings folded from events as they come: `apply` each event once, in order of `seq`."""

    def __init__(self) -> None:
        self._by_id: dict[int, Finding] = {}

    def apply(self, events: Iterable[Event]) -> None:
        for event in events:
            if event.act == "open":
                self._by_id[event.finding] = _opened(event)
            else:
                self._by_id[event.finding] = _changed(self._by_id[event.finding], event)

    def get(self, finding: int) -> Finding:
        return self._by_id[finding]

    def listed(self) -> list[Finding]:
        """Findings that stand, in the order in which they were first announced."""
        return [f for f in self._by_id.values() if f.listed]

    def all(self) -> list[Finding]:
        return list(self._by_id.values())


def _opened(event: Event) -> Finding:
    patch = event.patch
    return Finding(
        id=event.finding,
        kind=patch["kind"],
        point=patch["point"],
        start_ns=patch["start_ns"],
        end_ns=patch["end_ns"],
        found_ns=event.at_ns,
        as_of_ns=event.at_ns,
        evidence=MappingProxyType(dict(patch["evidence"])),
    )


def _changed(finding: Finding, event: Event) -> Finding:
    state = {"close": "closed", "merge": "merged", "withdraw": "withdrawn"}.get(event.act, finding.state)
    patch = event.patch
    evidence = finding.evidence
    if "evidence" in patch:
        evidence = MappingProxyType({**evidence, **patch["evidence"]})
    return replace(
        finding,
        kind=patch.get("kind", finding.kind),
        point=patch.get("point", finding.point),
        start_ns=patch.get("start_ns", finding.start_ns),
        end_ns=patch.get("end_ns", finding.end_ns),
        evidence=evidence,
        state=state,
        as_of_ns=event.at_ns,
    )
