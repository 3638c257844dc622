"""The suggestion answered on the screen: key E on the plan place, typed words, kept by `Places.decide`."""

from __future__ import annotations

from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.tui.places import Places
from tests.tui.test_keys import face_on, press


def test_yes_and_why_go_where_decisions_are_kept() -> None:
    """E on the plan opens a line; its words go to `decide`, what was kept is told, the plan is made anew."""
    said: list[str] = []
    asked: list[str] = []
    places = Places(
        plan=lambda units: [asked.append(units) or units],  # type: ignore[func-returns-value]
        decide=lambda words: said.append(words) or "Kept: post 3 mm in.",  # type: ignore[func-returns-value]
    )
    face, player = face_on(State.READY, places)
    press(face, ["4", "e"])
    assert face.page == "advice"
    press(face, ["y", "e", "s", "enter"], 40.0)

    assert said == ["yes"]
    assert face.told == "Kept: post 3 mm in."
    assert len(asked) == 2
    assert player.acts == []


def test_stop_leaves_the_line_and_keeps_nothing() -> None:
    """Escape is STOP in the middle of an answer, also while the table turns, and nothing is kept."""
    said: list[str] = []
    face, player = face_on(State.POLISH, Places(decide=lambda words: said.append(words) or ""))  # type: ignore[func-returns-value]
    press(face, ["4", "e", "n", "o", "escape"])

    assert player.acts == [Act.STOP]
    assert face.page is None
    assert said == []


def test_elsewhere_e_means_nothing() -> None:
    """On other places, or where no decision can be kept, E does nothing."""
    face, player = face_on(State.READY, Places(decide=lambda words: ""))
    press(face, ["5", "e"])
    assert face.page is None
    face, player = face_on(State.READY)
    press(face, ["4", "e"])
    assert face.page is None
    assert player.acts == []
