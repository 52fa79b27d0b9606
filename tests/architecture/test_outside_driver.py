"""The open door: the driver that DEVELOPERS.md shows is built, installed and used, as its text stands."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.made import chart

ROOT = Path(__file__).parents[2]
_FILES = re.compile(r"^`([\w.]+)`:\n\n```\w+\n(.*?)^```$", re.DOTALL | re.MULTILINE)


@pytest.fixture(scope="module")
def written() -> dict[str, str]:
    """The files that DEVELOPERS.md shows, by name."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.split("## A driver as an outside package")[1].split("\n## ")[0]
    return dict(_FILES.findall(section))


@pytest.fixture(scope="module")
def installed(written: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """An environment in which that package is installed beside the program; built without network."""
    source, target = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("target")
    for name, text in written.items():
        (source / name).write_text(text, encoding="utf-8")
    command = [
        sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--no-index",
        "--no-deps", "--no-build-isolation", "--target", str(target), str(source),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=source)
    assert done.returncode == 0, done.stdout + done.stderr
    paths = os.pathsep.join([str(target), str(ROOT)])
    return {**os.environ, "PYTHONPATH": paths, "SOURCE": str(source), "XDG_CONFIG_HOME": str(source)}


def test_the_driver_is_short(written: dict[str, str]) -> None:
    """About 40 lines of code."""
    assert set(written) == {"pyproject.toml", "benchtui_millivolts.py", "test_millivolts.py"}
    code = [line for line in written["benchtui_millivolts.py"].splitlines() if line.strip()]
    assert len(code) <= 45


def test_it_holds_the_contract_by_its_own_test(installed: dict[str, str]) -> None:
    """Its one line of pytest, run as its author would."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "test_millivolts.py"],
        capture_output=True, text=True, check=False, cwd=installed["SOURCE"], env=installed,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "1 passed" in done.stdout


def test_it_comes_through_the_catalogue(installed: dict[str, str]) -> None:
    """Named beside the built-in ones, opened by name, strict about keys that it does not know."""
    script = (
        "import json\n"
        "from benchtui.driver import catalogue\n"
        "from benchtui.driver.contract import DriverOptions\n"
        "from benchtui.model.errors import DriverError\n"
        "driver = catalogue.open_driver('millivolts', DriverOptions('A'))\n"
        "driver.start(0)\n"
        "out = driver.feed(bytes.fromhex('0200045a7422') + bytes([2, 0, 4, 90, 116, 42]), 5)\n"
        "try:\n    catalogue.open_driver('millivolts', DriverOptions('A', options={'colour': 1}))\n"
        "except DriverError as error:\n    said = str(error)\n"
        "print(json.dumps([catalogue.names(), out.readings.value.tolist(), said]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False, env=installed
    )
    assert done.returncode == 0, done.stderr
    names, values, said = json.loads(done.stdout)
    assert {"millivolts", "scpi", "lines", "frames"} <= set(names)
    assert values == [285.3]
    assert "meter A: colour: the driver millivolts has no such key" in said


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")
def test_its_meter_is_identified_and_watched(installed: dict[str, str], tmp_path: Path) -> None:
    """On a pseudo-terminal: found by listening, the printed entry pasted, its point given, and read."""
    from benchtui.store.session import Session
    from tests.cli.talking import talking

    def say(n: int) -> bytes:
        four = (285_300 + n % 10).to_bytes(4, "big")
        return bytes([2, *four, four[0] ^ four[1] ^ four[2] ^ four[3]])

    def benchtui(*args: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "benchtui.cli.main", *map(str, args)]
        return subprocess.run(command, capture_output=True, text=True, check=False, env=installed)

    with talking(say) as port:
        found = benchtui("meters", "--identify", port, "--for", "2")
        assert found.returncode == 0, found.stdout + found.stderr
        assert 'driver "millivolts"' in found.stdout
        bench = tmp_path / "bench.toml"
        entry = found.stdout[found.stdout.index("[[meter]]") :].split("\n\n")[0]
        assert '# point = "B+1"' in entry
        bench.write_text(entry.replace("# point", "point"))
        kept = tmp_path / "kept.session"
        watched = benchtui(
            "watch", "--chart", chart(tmp_path), "--bench", bench, "--session", kept, "--text", "--for", "2"
        )
        assert watched.returncode in (0, 1), watched.stderr
    values = [v for block in Session.read(kept).blocks() for v in block.readings.value.tolist()]
    assert len(values) >= 5
    assert set(values) <= {(285_300 + n) / 1000 for n in range(10)}
