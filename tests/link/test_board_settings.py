"""The board's settings as people write them, and back."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchctl.errors import BadInput
from benchctl.link.board_settings import SPELLINGS, differences, parse_change, plan_of, rows, shown
from benchctl.models.bench_config import BoardPlan
from firmware_protocol.settings import DEFAULTS, SETTING_TABLE, Settings, with_value

ROWS = st.sampled_from(SETTING_TABLE)


@settings(deadline=None)
@given(st.data())
def test_what_is_shown_can_be_typed(data: st.DataObject) -> None:
    """Any value the board takes, shown and typed back, is the same value, by either name."""
    setting, name, _, least, most = data.draw(ROWS)
    value = data.draw(st.integers(least, most))
    typed = parse_change(f"{SPELLINGS[name].key}={shown(name, value)}")
    assert (typed.setting, typed.value) == (setting, value)
    assert parse_change(f"{name}={value}").value == value


@settings(deadline=None)
@given(st.data())
def test_nothing_outside_the_limits_is_taken(data: st.DataObject) -> None:
    """A value outside the board's table is refused with the setting's name, and never brought inside."""
    _, name, _, least, most = data.draw(ROWS)
    value = data.draw(st.integers(-10, 10**9).filter(lambda number: not least <= number <= most))
    with pytest.raises(BadInput, match=name):
        parse_change(f"{name}={value}")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("ceiling=99 rpm", "99 rpm is outside 1 rpm to 60 rpm"),
        ("ceiling=40", "needs a unit"),
        ("ceiling=nan rpm", "is not a turning speed"),
        ("ceiling", "write NAME=VALUE"),
        ("speeling=1", "is not a setting; known are"),
        ("pedal_fitted=perhaps", "neither yes nor no"),
        ("load_zero_counts=１２", "is not a whole number"),
        ("fault_stop=2 kg", "is not a ramp"),
    ],
)
def test_refusals_say_what_is_wrong(text: str, words: str) -> None:
    """Each refusal says in a sentence what is wrong with what was typed."""
    with pytest.raises(BadInput, match="board settings") as caught:
        parse_change(text)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


@settings(deadline=None)
@given(st.data())
def test_a_plan_made_of_a_board_fits_that_board(data: st.DataObject) -> None:
    """The plan learned from any settings differs from them nowhere; one changed value differs there only."""
    settings = Settings(*[data.draw(st.integers(row[3], row[4])) for row in SETTING_TABLE])
    plan = plan_of(settings, "board 1")
    assert differences(settings, plan) == []
    setting, name, _, least, most = data.draw(ROWS.filter(lambda row: row[1] != "service_lock"))
    other = data.draw(st.integers(least, most))
    found = differences(with_value(settings, setting, other), plan)
    assert [difference.key for difference in found] == (
        [SPELLINGS[name].key] if other != settings[setting - 1] else []
    )


def test_an_empty_plan_asks_nothing() -> None:
    """A bench file without a [board] part has nothing to compare."""
    assert differences(DEFAULTS, BoardPlan()) == []


def test_every_setting_is_shown() -> None:
    """All settings of the board's table are shown, in its order."""
    assert [name for _, _, name, _ in rows(DEFAULTS)] == [row[1] for row in SETTING_TABLE]
