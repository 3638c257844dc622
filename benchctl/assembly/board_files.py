"""The board's files put on a board, by mpremote: which files, what is changed in them, and the command."""

from __future__ import annotations

import importlib.util
import re
import shlex
import shutil
import subprocess
import sys
from importlib import resources
from pathlib import Path

from benchctl.errors import BadInput, LinkLost
from benchctl.models.bench_config import Pins

HOST_ONLY = ("describe.py", "protocol_words.py", "reason_names.py")
"""Not for the board: they would cost it memory and nothing there needs them."""
NO_MPREMOTE = (
    "board put: mpremote, which copies files to a MicroPython board, is not installed; "
    "install it with: pip install 'benchctl[board]'"
)


def gather(folder: Path, pins: Pins | None) -> list[str]:
    """Copy the board's files into a folder as they shall lie on the board; their names, in order.

    The wiring file gets the pins of bench.toml, and `main.py` starts the loop.
    """
    package = Path(str(resources.files("firmware_protocol")))
    target = folder / "firmware_protocol"
    (target / "board").mkdir(parents=True)
    for source in sorted([*package.glob("*.py"), *package.glob("board/*.py")]):
        if source.name not in HOST_ONLY:
            shutil.copyfile(source, target / source.relative_to(package))
    if pins is not None:
        wiring = target / "board" / "wiring.py"
        wiring.write_text(with_pins(wiring.read_text(encoding="utf-8"), pins), encoding="utf-8")
    start = "from firmware_protocol.board.main import main\n\nmain()\n"
    (folder / "main.py").write_text(start, encoding="ascii")
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.py"))


def with_pins(wiring: str, pins: Pins) -> str:
    """The wiring file's text with other pins. BadInput for a pin that the file does not have."""
    for name, number in pins.model_dump().items():
        line = re.compile(rf"^{name.upper()} = \d+$", re.MULTILINE)
        if not line.search(wiring):
            raise BadInput(f"pins.{name}: the board's wiring file has no such pin; remove the key")
        wiring = line.sub(f"{name.upper()} = {number}", wiring)
    return wiring


def command(port: str) -> list[str]:
    """The mpremote command, to be run in the folder that `gather` filled."""
    if importlib.util.find_spec("mpremote") is not None:
        program = [sys.executable, "-m", "mpremote"]
    elif (found := shutil.which("mpremote")) is not None:
        program = [found]
    else:
        raise BadInput(NO_MPREMOTE)
    copy = ["fs", "cp", "-r", "firmware_protocol", ":", "+", "fs", "cp", "main.py", ":"]
    return [*program, "connect", port, *copy, "+", "reset"]


def shown_command(words: list[str]) -> str:
    """The command as one would type it."""
    return shlex.join(words)


def put(words: list[str], folder: Path) -> None:
    """Run the command; LinkLost with what it said last where it fails."""
    done = subprocess.run(
        words, cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    if done.returncode:
        said = (done.stderr or done.stdout).strip().splitlines() or ["it said nothing"]
        raise LinkLost(
            f"board put: mpremote failed: {said[-1][:200]}; set the service jumper (see the wiring page), "
            "plug the board in anew and try again"
        )
