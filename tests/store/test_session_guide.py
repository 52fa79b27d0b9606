"""What the guide says of the session file is so."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from pathlib import Path

from benchtui.model.block import Block
from benchtui.model.readings import Flag, Readings
from benchtui.model.units import Unit
from benchtui.store.session import Session

from .made import CHANNELS, HEADER

GUIDE = (Path(__file__).parents[2] / "benchtui" / "guide" / "session_file.md").read_text(encoding="utf-8")


def test_the_program_in_the_guide_reads_a_session(tmp_path: Path) -> None:
    """It is run as it stands there, with nothing but Python."""
    session = Session.create(tmp_path / "a.session", HEADER)
    t_ns, value = [10**9, 2 * 10**9, 3 * 10**9], [285.1, -0.5, 6.25]
    with session.atomic():
        session.add(Block(Readings.of(t_ns, [0, 1, 0], [1, 2, 5], value, 0.1, [0, 2, 4]), (), 4 * 10**9))
    session.close()
    code = re.search(r"```python\n(.*?)```", GUIDE, re.DOTALL)
    assert code is not None
    command = [sys.executable, "-I", "-c", code.group(1), str(tmp_path / "a.session")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == [
        f"1.0 {CHANNELS[0].name} 1 285.1 0",
        f"2.0 {CHANNELS[1].name} 2 -0.5 2",
        f"3.0 {CHANNELS[0].name} 5 6.25 4",
    ]


def test_the_guide_names_every_table_unit_and_flag(tmp_path: Path) -> None:
    """Nothing is in the file that the guide does not describe."""
    Session.create(tmp_path / "a.session", HEADER).close()
    db = sqlite3.connect(tmp_path / "a.session")
    tables = {name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert set(re.findall(r"^\| `(\w+)` \|", GUIDE, re.MULTILINE)) == tables
    for unit in Unit:
        assert f"{int(unit)} {unit.symbol or 'is unknown'}" in GUIDE
    for flag in Flag:
        assert f"{int(flag)} {(flag.name or '').lower().replace('_', ' ')}" in GUIDE
