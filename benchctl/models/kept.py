"""Check the fields of a kept record against the model it was written from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from benchctl.errors import BadInput
from benchctl.models.decision import Decision
from benchctl.models.inspection import Inspection
from benchctl.models.press_record import PressRecord
from benchctl.models.segment_record import SegmentRecord
from benchctl.models.validation import first_complaint

_MODELS: dict[str, type[BaseModel]] = {
    "segment_end": SegmentRecord,
    "inspection": Inspection,
    "decision": Decision,
    "press": PressRecord,
}


def known_fields(kind: str) -> frozenset[str]:
    """The fields of a kind of record; empty for a kind that has no model."""
    model = _MODELS.get(kind)
    return frozenset(model.model_fields) if model else frozenset()


def check_fields(kind: str, fields: Mapping[str, Any]) -> None:
    """BadInput, in one sentence, for fields (SI) that such a record could not have been written with."""
    if model := _MODELS.get(kind):
        try:
            model.model_validate(dict(fields), context={"si": True})
        except ValidationError as error:
            raise BadInput(first_complaint(error)) from error
