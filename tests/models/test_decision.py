"""A decision, as it goes into the logbook."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from benchctl.errors import BadInput
from benchctl.models.decision import Decision, Predicted
from benchctl.models.kept import check_fields

WHOLE: dict[str, Any] = {
    "decision": "post 3 mm out",
    "mirror": "Bench demo 460",
    "segment": "20260301-140203-aaaaaa",
    "changes": {"post_offset_m": 0.131},
    "advised": "post 3 mm in",
    "why": "the edge looks grey",
    "predicted": {"zones": [-0.13, -0.06, 0.0, 0.03, 0.05], "edge": 0.06},
}


def test_a_decision_is_the_same_after_writing_and_reading() -> None:
    """What goes into the logbook comes back."""
    decision = Decision.model_validate(WHOLE)
    assert Decision.model_validate(decision.model_dump(mode="json")) == decision
    assert isinstance(decision.predicted, Predicted)
    assert decision.predicted.zones[0] == -0.13


@pytest.mark.parametrize(
    "bad",
    [
        {"decision": ""},
        {"changes": {"post_offset": 0.1}},
        {"predicted": {"zones": [0.1] * 4}},
        {"predicted": {"zones": [0.1] * 4 + [float("nan")]}},
        {"predicted": {"zones": [-1.5, 0, 0, 0, 0]}},
        {"predicted": 0.1},
    ],
)
def test_a_decision_that_could_not_be_judged_later_is_refused(bad: dict[str, Any]) -> None:
    """Words are there, changes are settings, a prediction has five finite changes of depth."""
    with pytest.raises(ValidationError):
        Decision.model_validate(WHOLE | bad)


def test_a_correction_of_a_decision_is_held_to_its_model() -> None:
    """A corrected decision must be one that could have been written."""
    check_fields("decision", WHOLE)
    with pytest.raises(BadInput, match="post_offset_m"):
        check_fields("decision", WHOLE | {"changes": {"post_offset_m": -1.0}})
