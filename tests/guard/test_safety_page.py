"""The fault table of docs/safety.md names tests that exist, where it says they are."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchctl.guard.alarm_rows import ALARMS, STOPS

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "safety.md").read_text(encoding="utf-8")
TABLE = PAGE[PAGE.index("## What stops it") : PAGE.index("## How alarms behave")]
FAULTS = [line for line in TABLE.splitlines() if line.startswith("| ") and not line.startswith("| fault")]


@pytest.mark.parametrize("row", FAULTS, ids=lambda row: row.split("|")[1].strip())
def test_each_fault_has_tests_that_exist(row: str) -> None:
    """Every file that a row names holds the tests named after it."""
    named = re.findall(r"\(\.\./(tests/[\w/]+\.py)\)((?:[^\[|]*`test_\w+`)+)", row)
    assert named, row
    for path, words in named:
        text = (ROOT / path).read_text(encoding="utf-8")
        for test in re.findall(r"`(test_\w+)`", words):
            assert f"def {test}(" in text, f"{path} has no {test}"


def test_all_faults_are_there() -> None:
    """The 35 faults of the first list, and the three that the work on it added."""
    assert len(FAULTS) == 38


def test_names_in_the_log_are_the_programs_own() -> None:
    """What the table calls a stop or an alarm is one."""
    known = set(STOPS) | set(ALARMS)
    for name in (
        "permit_expired",
        "computer_slept",
        "lap_slowing",
        "cable_noisy",
        "power_not_off",
        "disk_full",
    ):
        assert f"`{name}`" in TABLE
        assert name in known
