"""The list of guards for the mutation run fits the source as it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.mutation_guards import GUARDS, Guard

ROOT = Path(__file__).parent.parent.parent


@pytest.mark.parametrize("guard", GUARDS, ids=lambda guard: guard.name)
def test_each_guard_can_be_taken_out(guard: Guard) -> None:
    """Its text stands exactly once in its file, what is left is Python, and its tests are there."""
    text = (ROOT / guard.file).read_text(encoding="utf-8")
    assert text.count(guard.text) == 1, f"{guard.name}: correct its text in the list of guards"
    compile(text.replace(guard.text, guard.put), guard.file, "exec")
    for test in guard.tests:
        file, _, name = test.partition("::")
        assert f"def {name}" in (ROOT / file).read_text(encoding="utf-8")


def test_names_are_different() -> None:
    """A name is one guard."""
    assert len({guard.name for guard in GUARDS}) == len(GUARDS)
