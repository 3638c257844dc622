"""What holds for every test: chance without a clock, and tests that live in real time kept apart.

The ordinary run tries the same cases each time. `--hypothesis-profile=searching` looks for new ones.
"""

from __future__ import annotations

import hypothesis
import pytest

hypothesis.settings.register_profile("repeatable", deadline=None, derandomize=True)
hypothesis.settings.register_profile("searching", deadline=None)
hypothesis.settings.load_profile("repeatable")

LIVE = "live"
"""Tests that wait on the wall clock: one worker runs them in turn while another computes."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put tests marked `live` into one group, so that two of them never share the processor."""
    for item in items:
        if item.get_closest_marker(LIVE):
            item.add_marker(pytest.mark.xdist_group(LIVE))
