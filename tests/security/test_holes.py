"""The list of holes names tests that exist, and the page on safety tells the same."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.security.holes import HOLES

ROOT = Path(__file__).parent.parent.parent
NAMED = sorted({test for tests in HOLES.values() for test in tests})


@pytest.mark.parametrize("test", NAMED)
def test_each_named_test_exists(test: str) -> None:
    """A hole is held by tests that are there under the names given."""
    file, _, name = test.partition("::")
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    names = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
    assert names if not name else name in names


def test_the_page_names_every_hole() -> None:
    """`docs/safety.md` lists the holes and the files of their tests."""
    page = (ROOT / "docs" / "safety.md").read_text(encoding="utf-8")
    for hole, tests in HOLES.items():
        line = next((line for line in page.splitlines() if line.startswith(f"| {hole} |")), "")
        assert line, f"no line for '{hole}'"
        for test in tests:
            assert Path(test.partition("::")[0]).name in line
