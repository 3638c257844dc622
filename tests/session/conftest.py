"""A driven bench, closed with its test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.session.driven import Driven


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Driven]:
    """The demo job, six minutes, on simulated time."""
    bench = Driven(tmp_path)
    yield bench
    bench.parts.close()
