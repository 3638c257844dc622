"""Check one field of a model before the others are known: for questions that are asked one after another."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, create_model

from benchctl.models.quantities import Record
from benchctl.models.validation import made


def check_one(model: type[BaseModel], key: str, value: object) -> None:
    """BadInput, in one sentence, where `value` could not stand under `key` (as files spell it) in `model`."""
    name, field = next((n, f) for n, f in model.model_fields.items() if key in (n, f.alias))
    chosen: dict[str, Any] = {name: (field.annotation, field)}
    one = create_model(model.__name__, __base__=Record, **chosen)
    made(lambda: one.model_validate({key: value}))
