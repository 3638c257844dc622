"""The page on the format names everything that is written."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest

from benchctl.logbook.lines import ENVELOPE, Kind
from benchctl.models.inspection import Blemish, Inspection, ZoneLook
from benchctl.models.press_record import PressRecord
from benchctl.models.segment_record import SegmentRecord
from benchctl.planner.marks import draw

PAGE = (Path(__file__).parents[2] / "docs" / "logbook-format.md").read_text(encoding="utf-8")
MODELS = (SegmentRecord, PressRecord, Inspection, ZoneLook, Blemish)
FIELDS = {name for model in MODELS for name in model.model_fields} - {"event"}
NAMES = FIELDS | set(ENVELOPE) | {"prev", "crc"} | set(get_args(Kind)) | draw([], 13, 7).fields().keys()


@pytest.mark.parametrize("name", sorted(NAMES))
def test_the_page_names_each_field_and_kind(name: str) -> None:
    """Every field of every record, and every kind, stands on the page in its own spelling."""
    assert f"`{name}`" in PAGE
