"""The board's files against the type stubs of MicroPython for the RP2040: `machine`, `time` and all the rest.

The stubs bring a standard library of their own, so what MicroPython lacks is an error too.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from importlib import metadata
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.firmware_protocol.test_micropython import BOARD_FILES
from tests.firmware_protocol.unix_board import ROOT

CONFIG = Path(__file__).with_name("rp2_types.ini")
STUBS = ("micropython-rp2-stubs", "micropython-stdlib-stubs")


def files_of(name: str) -> list[metadata.PackagePath]:
    """The stubs of an installed distribution; empty where it is not installed."""
    try:
        return [
            file for file in metadata.files(name) or [] if file.suffix == ".pyi" or file.name == "VERSIONS"
        ]
    except metadata.PackageNotFoundError:
        return []


pytestmark = pytest.mark.skipif(
    not all(map(files_of, STUBS)) or find_spec("mypy") is None,
    reason="no type stubs of MicroPython here: pip install mypy micropython-rp2-stubs",
)


@pytest.fixture(scope="module")
def stubs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the stubs alone: the type checker refuses site-packages as a place for its sources."""
    folder = tmp_path_factory.mktemp("stubs")
    for name in STUBS:
        for file in files_of(name):
            copy = folder / file
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(str(file.locate()), copy)
    return folder


def checked(folder: Path, stubs: Path) -> subprocess.CompletedProcess[str]:
    """The type checker over the board's files under `folder`."""
    files = [str(path.relative_to(ROOT)) for path in BOARD_FILES]
    words = [
        "--config-file",
        str(CONFIG),
        "--custom-typeshed-dir",
        str(stubs),
        "--cache-dir",
        str(stubs / "c"),
    ]
    return subprocess.run(
        [sys.executable, "-m", "mypy", *words, *files],
        cwd=folder,
        env={**os.environ, "MYPYPATH": str(stubs)},
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )


def test_types_of_the_board_files(stubs: Path) -> None:
    """No call to a pin, a port, a clock or a file is at odds with what the RP2040's MicroPython offers."""
    done = checked(ROOT, stubs)
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"no issues found in {len(BOARD_FILES)} source files" in done.stdout


@pytest.mark.parametrize(
    ("right", "wrong", "complaint"),
    [
        ("self._load.read_u16", "self._load.read_u17", "read_u17"),
        ("machine.WDT(timeout=wiring.WATCHDOG_MS)", 'machine.WDT(timeout="1 s")', "timeout"),
        ("machine.idle()", "time.monotonic()", "monotonic"),
    ],
)
def test_a_planted_error_is_found(
    tmp_path: Path, stubs: Path, right: str, wrong: str, complaint: str
) -> None:
    """A pin's method that is not there, a wrong argument, a clock that MicroPython lacks: each is named."""
    for path in BOARD_FILES:
        copy = tmp_path / path.relative_to(ROOT)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_text(path.read_text())
    pins = tmp_path / "firmware_protocol/board/pins_rp2040.py"
    assert right in pins.read_text()
    pins.write_text(pins.read_text().replace(right, wrong))
    done = checked(tmp_path, stubs)
    assert done.returncode == 1, done.stdout + done.stderr
    assert complaint in done.stdout
    assert "Found 1 error" in done.stdout
