"""The fields of a segment's records in the logbook."""

from __future__ import annotations

from typing import Any

from benchctl.models.segment_record import SegmentRecord


def end_fields(segment_id: str, record: SegmentRecord) -> dict[str, Any]:
    """What `segment_end` keeps: the segment's record, and the id of its `segment_start`."""
    return {"segment": segment_id} | record.model_dump(mode="json")
