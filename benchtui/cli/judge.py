"""`benchtui judge FILE`: every watcher over a session, a wire log or a CSV file, without a screen."""

from __future__ import annotations

import argparse
import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .console import WARN_ABOVE, Progress, example, say, say_error, say_json
from .near import nearest
from .streams import NobodyReads
from .times import time_ns

if TYPE_CHECKING:
    from benchtui.chart.chart import Chart
    from benchtui.model.findings import Event
    from benchtui.store.recording import Recording
    from benchtui.watch.bank import Bank


def add_parser(commands: Any) -> None:
    """Adds the command `judge`."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "judge",
        help="judge a session, a wire log or a CSV file; no screen",
        description="Every watcher over what was recorded. Reads no settings of yours: a session carries its "
        "chart, bench and settings; the options replace them for a second judgement.",
        **example(
            "benchtui judge evening.session",
            "benchtui judge readings.csv --chart my-set.toml --until 12:30",
            after="Exit status: 0 nothing wrong; 1 a finding is a fault; 2 it could not do it,\n"
            "or nothing was read.",
        ),
    )
    parser.add_argument("file", metavar="FILE", type=Path, help="session, wire log or CSV of readings")
    add_inputs(parser)
    parser.add_argument("--marks", metavar="M", type=Path, help="CSV of marks, added to the file's own")
    parser.add_argument("--until", metavar="TIME", help="what was known then: seconds, m:ss or h:mm:ss")
    lines = parser.add_mutually_exclusive_group()
    lines.add_argument("--json", action="store_true", help="JSON Lines: one finding a line, then a summary")
    lines.add_argument("--events", action="store_true", help="JSON Lines: the log of events")
    parser.set_defaults(run=run)


def add_inputs(parser: argparse.ArgumentParser) -> None:
    """Adds the options that replace what a recording carries."""
    parser.add_argument("--chart", metavar="C", type=Path, help="chart of the set (TOML)")
    parser.add_argument("--bench", metavar="B", type=Path, help="bench of meters (TOML)")
    parser.add_argument("--settings", metavar="S", type=Path, help="settings (TOML)")
    parser.add_argument("--warn-above", metavar="V", help=WARN_ABOVE)


def run(args: argparse.Namespace) -> int:
    """Judges the file; gives the exit status.

    Raises:
        BenchError: something cannot be read.
    """
    from benchtui.store.csv import read_marks

    marks = read_marks(args.marks) if args.marks else ()
    recording = opened(args, marks)
    until_ns = _until(args.until)
    bank, events = judged(recording, until_ns)
    with contextlib.suppress(NobodyReads):
        _show(recording, bank, events, args)
    for remark in (*recording.remarks, *strangers(recording.chart, bank)):
        say_error(remark)
    found = status(bank)
    if found == NOT_JUDGED:
        from benchtui.report.outcome import nothing_read

        say_error(f"{recording.path.name}: {nothing_read(bank)}; so nothing could be judged")
    return found


def _show(recording: Recording, bank: Bank, events: list[Event], args: argparse.Namespace) -> None:
    from benchtui.report.lines import event_line, finding_line, summary_line

    if args.events:
        for event in events:
            say_json(event_line(event))
    elif args.json:
        for finding in bank.folding.listed():
            say_json(finding_line(finding, recording.chart))
        say_json(summary_line(bank))
    else:
        from .judge_table import table

        say(table(recording, bank, summary_line(bank)))


def strangers(chart: Chart, bank: Bank) -> list[str]:
    """A line for each point that was read, is not in the chart, and is called nearly like one that is."""
    known = [point.name for point in chart.points]
    lines = []
    for name in bank.placer.desk.tracks:
        if name not in known and (meant := nearest(name, known)) is not None:
            lines.append(
                f'warning: "{name}" is no point of the chart and was judged without limits; '
                f'did you mean "{meant}"?'
            )
    return lines


def opened(args: argparse.Namespace, marks: Any = ()) -> Recording:
    """The recording that the options name."""
    from benchtui.store.recording import read

    from .inputs import bench, chart, overrides, settings

    given = overrides(args.warn_above)
    size = args.file.stat().st_size if args.file.is_file() else 0
    with Progress("reading", size) as progress:
        return read(
            args.file,
            chart=chart(args.chart) if args.chart else None,
            bench=bench(args.bench) if args.bench else None,
            settings=settings(args.settings, given) if args.settings else None,
            marks=marks,
            overrides=given,
            at=progress.at,
        )


def judged(recording: Recording, until_ns: int | None) -> tuple[Bank, list[Event]]:
    """Feeds all of it to a fresh bank."""
    from benchtui.watch.bank import Bank

    bank = Bank(recording.chart, recording.channels, recording.settings)
    events: list[Event] = []
    whole = recording.upto_ns if until_ns is None else min(until_ns, recording.upto_ns)
    with Progress("judging", whole) as progress:
        for block in recording.blocks(until_ns=until_ns):
            events += bank.feed(block)
            progress.at(block.upto_ns)
    return bank, events


NOT_JUDGED = 2
"""Nothing was read, which is no judgement."""


def status(bank: Bank) -> int:
    """1 where a listed finding has severity fault, NOT_JUDGED where nothing was read, else 0."""
    from benchtui.report.outcome import any_read

    if any(finding.severity == "fault" for finding in bank.folding.listed()):
        return 1
    return 0 if any_read(bank) else NOT_JUDGED


def _until(text: str | None) -> int | None:
    if text is None:
        return None
    return time_ns(text, "--until", "a time since the session began, like 12.5, 3:01.5 or 1:02:03")
