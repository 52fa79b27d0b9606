"""One labelled case: what a program is given, and what a skilled and patient person would say of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

Answer = tuple[str, str | None]
"""(kind of finding, point); the point is None where the finding is about the whole supply."""


@dataclass(frozen=True, slots=True)
class Truth:
    """Something that happened, and the findings that name it rightly. Times in seconds."""

    name: str
    """The shape that was put in, for the tables."""
    accept: tuple[Answer, ...]
    start_s: float
    end_s: float
    must: bool
    """True: to say nothing is a miss. False: a person could not tell, or may leave it unsaid."""
    early_s: float
    """A finding may begin so long before `start_s`, for the meters' timing."""
    late_s: float
    """A finding may begin so long after `start_s`."""
    many: bool = False
    """True where several findings for it are as good as one."""
    after_mark: float | None = None
    """The `t_s` of the mark that it followed at once, where it did."""

    def answers(self, kind: str, point: str | None, start_s: float, end_s: float | None) -> bool:
        """True if a finding names this truth: kind and point accepted, begun in time, not over before it."""
        if (kind, point) not in self.accept:
            return False
        if not self.start_s - self.early_s <= start_s <= self.start_s + self.late_s:
            return False
        return end_s is None or end_s >= self.start_s - self.early_s


@dataclass(frozen=True, slots=True)
class Settling:
    """When a point reached its level in one run, by the noise-free course. Seconds on the timeline."""

    on_s: float
    off_s: float
    at_s: float
    """From here on within the larger of 2 % and three resolutions of where it will stay."""
    not_before_s: float
    """Within twice that from here on: settled told earlier is told too early."""
    value: float
    must: bool
    """False where the run was too short, disturbed or already warm."""


@dataclass(frozen=True, slots=True)
class Stream:
    """One meter function as it was read."""

    channel: str
    points: tuple[str, ...]
    period_s: float
    window_s: float
    """Averaging time."""
    delay_s: float
    digits: int
    """Counts of full scale."""
    hours: float
    """Time with readings while the set was powered or after it."""


@dataclass(frozen=True, slots=True)
class Case:
    """A case, complete: the texts of the files, and the labels."""

    seed: int
    scene: str
    fault_free: bool
    """Nothing is wrong with the set; the mains and the meters may be what they are."""
    chart: str
    bench: str | None
    readings: str
    marks: str
    until_s: float
    truths: tuple[Truth, ...]
    settlings: Mapping[str, tuple[Settling, ...]]
    decisions: Mapping[str, frozenset[str]]
    """Point -> the decisions at the end that are right; left out where a person would not decide."""
    streams: tuple[Stream, ...]
    times: Mapping[str, tuple[float, ...]] = field(repr=False)
    """Point -> the times of its readings, for delays counted in readings."""

    def write(self, folder: Path) -> Path:
        """Writes chart.toml, readings.csv, marks.csv and any bench.toml; gives the path of the readings."""
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "chart.toml").write_text(self.chart, encoding="utf-8")
        (folder / "marks.csv").write_text(self.marks, encoding="utf-8")
        if self.bench is not None:
            (folder / "bench.toml").write_text(self.bench, encoding="utf-8")
        path = folder / "readings.csv"
        path.write_text(self.readings, encoding="utf-8")
        return path
