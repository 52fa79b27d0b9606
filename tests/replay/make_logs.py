"""Writes the wire logs of `replay_logs/` anew: `python -m tests.replay.make_logs [FOLDER]`."""

from __future__ import annotations

import sys
from pathlib import Path

from .cables import record
from .scenes import SCENES, as_toml

LOGS = Path(__file__).parents[2] / "replay_logs"


def main(folder: Path) -> None:
    """Every scene's log and expectations, into this folder; old ones are replaced."""
    for scene in SCENES:
        log = folder / f"{scene.name}.jsonl"
        log.unlink(missing_ok=True)
        record(log, scene.setup(), scene.voices(), scene.faults(), scene.duration_s)
        (folder / f"{scene.name}.expect.toml").write_text(as_toml(scene), encoding="utf-8")
        print(f"{log.name}: {log.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else LOGS)
