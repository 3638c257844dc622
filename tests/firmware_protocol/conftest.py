"""Leaves the long tests of this folder out of an ordinary run; `-m long` runs them."""

from __future__ import annotations

from pathlib import Path

import pytest

HERE = Path(__file__).parent


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Deselect this folder's long tests unless the run chose by marker itself."""
    if config.option.markexpr:
        return
    long = [item for item in items if item.get_closest_marker("long") and HERE in item.path.parents]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]
