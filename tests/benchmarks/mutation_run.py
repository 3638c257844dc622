"""Take out each guard in turn and see a test fail. Run by hand: about ten minutes of one processor.

    python -m tests.benchmarks.mutation_run [WORDS OF A NAME...]

Works in a copy of the tree; the tree itself is not touched. Words choose the guards whose names hold them.
Exit status 1 where a guard's absence went unnoticed.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from time import monotonic

from tests.benchmarks.mutation_guards import GUARDS, Guard

ROOT = Path(__file__).parent.parent.parent
COPIED = ("benchctl", "firmware_protocol", "tests", "docs", "pyproject.toml", "README.md")
LIMIT_S = 600.0
"""A run that takes longer counts as a failed test: without its guard something may wait for ever."""


def copy_tree(to: Path) -> None:
    """The tree, without what was made from it."""
    leave = shutil.ignore_patterns("__pycache__", ".*", "*.pyc")
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, to / name, ignore=leave)
        else:
            shutil.copy(source, to / name)


def fails(tree: Path, tests: tuple[str, ...]) -> str:
    """The name of the first test that fails in `tree`; empty where none does."""
    words = ["-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests]
    try:
        done = subprocess.run(
            [sys.executable, "-B", *words],
            cwd=tree,
            capture_output=True,
            text=True,
            timeout=LIMIT_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return "(never ended)"
    if done.returncode == 0:
        return ""
    found = [line for line in done.stdout.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    if done.returncode != 1 or not found:
        raise RuntimeError(f"the tests could not be run: {done.stdout[-400:]}{done.stderr[-400:]}")
    return found[0].split(" ", 1)[1].split(" - ")[0]


def killed_by(tree: Path, guard: Guard) -> str:
    """The test that notices that `guard` is gone; empty where none does. The tree is put back."""
    path = tree / guard.file
    text = path.read_text(encoding="utf-8")
    if text.count(guard.text) != 1:
        raise RuntimeError(f"'{guard.name}': its text is {text.count(guard.text)} times in {guard.file}")
    path.write_text(text.replace(guard.text, guard.put), encoding="utf-8")
    try:
        return fails(tree, guard.tests)
    finally:
        path.write_text(text, encoding="utf-8")


def main() -> None:
    """Print each guard with the test that noticed, and the survivors at the end."""
    words = sys.argv[1:]
    chosen = [guard for guard in GUARDS if all(word in guard.name for word in words)]
    survivors = []
    with tempfile.TemporaryDirectory() as name:
        tree = Path(name)
        copy_tree(tree)
        named = sorted({test for guard in chosen for test in guard.tests})
        if sound := fails(tree, tuple(named)):
            sys.exit(f"fails with every guard in place: {sound}")
        for guard in chosen:
            began_s = monotonic()
            test = killed_by(tree, guard)
            survivors += [] if test else [guard.name]
            print(f"{monotonic() - began_s:5.0f} s  {guard.name}: {test or 'SURVIVED'}", flush=True)
    print(f"{len(chosen) - len(survivors)} of {len(chosen)} guards missed by a test when taken out")
    print(*(f"survived: {name}" for name in survivors), sep="\n")
    sys.exit(1 if survivors else 0)


if __name__ == "__main__":
    main()
