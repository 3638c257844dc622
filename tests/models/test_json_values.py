"""A kept value as a number."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from benchctl.models.json_values import as_number


@pytest.mark.parametrize("value", [2.5, np.float64(2.5)])
def test_a_number_is_taken_also_from_the_program_s_own_arrays(value: Any) -> None:
    """What has not been through a file yet may still be an array's element."""
    assert as_number(value) == 2.5


def test_a_whole_number_is_taken() -> None:
    """A file may hold 3 where 3.0 was meant."""
    assert as_number(3) == 3.0


@pytest.mark.parametrize("value", [None, True, False, "3", [3], {"a": 3}])
def test_what_is_no_number_is_none(value: Any) -> None:
    """True is no 1."""
    assert as_number(value) is None
