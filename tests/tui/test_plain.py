"""The bench in lines."""

from __future__ import annotations

import io
import subprocess
import sys
from typing import Any

import pytest

from benchctl.models.preferences import Preferences
from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Line
from benchctl.tui.places import Places
from benchctl.tui.plain import PlainFace, run_plain
from tests.tui.ending_driver import Recorded
from tests.tui.shots import PIECES, Player, shot, stopped


def told(face: PlainFace, out: io.StringIO, looks: int = 1, dt_s: float = 0.1) -> list[str]:
    """What is told in some looks."""
    out.truncate(0)
    out.seek(0)
    for _ in range(looks):
        face.look(dt_s)
    return out.getvalue().splitlines()


def plain_on(
    state: State, places: Places | None = None, **changes: Any
) -> tuple[PlainFace, Player, io.StringIO]:
    player = Player([shot(state, **changes)])
    out = io.StringIO()
    return PlainFace(player, out, places or Places()), player, out


def test_a_state_is_told_once() -> None:
    """Each change of state is one line with what to do; nothing is told twice."""
    face, player, out = plain_on(State.READY)
    first = told(face, out)
    assert first[0] == "SIMULATED x16  READY: Mirror on its mark, lap set, weights on: then arm"
    assert "MARK 7: turn the mirror to it" in first
    assert told(face, out, 50) == []
    player.show(shot(State.ARMED))
    assert told(face, out) == ["SIMULATED x16  ARMED: Hands clear of table and lap: then run"]


def test_the_preparation_is_told_in_lines() -> None:
    """Before arming: the set-up in the units chosen, what is otherwise than last time, what to check."""
    places = Places(
        pieces=PIECES,
        differences=lambda units: [f"post 5.04 in, was 5.16 in ({units})"],
        blind_spot=lambda: "1 target",
        preferences=Preferences(units="inch"),
    )
    face, _, out = plain_on(State.READY, places, refusal="The disk is full")
    lines = told(face, out)
    assert "▲ not as last time: post 5.04 in, was 5.16 in (inch)" in lines
    assert "▲ lap sensor: 1 target" in lines
    assert "check: Post at 5.04 in, lap free on it" in lines
    assert any("4 x 5.51 + 2 x 4.41 = 30.86 lb" in line for line in lines)
    assert "REFUSED  The disk is full" in lines
    assert told(face, out, 20) == []


def test_every_event_is_one_line() -> None:
    """Each event is told once, also if two have the same time and words."""
    face, player, out = plain_on(State.POLISH, lines=(Line(1.0, "Armed"),))
    assert "00:01  Armed" in told(face, out)
    player.show(shot(State.POLISH, lines=(Line(1.0, "Armed"), Line(65.0, "Wetted"), Line(65.0, "Wetted"))))
    assert told(face, out) == ["01:05  Wetted", "01:05  Wetted"]
    assert told(face, out, 20) == []


def test_events_are_told_in_the_units_that_the_person_chose() -> None:
    """An event with a quantity has it in inches where those are preferred."""
    line = Line(3.0, "Called to shift the lap by 35 mm", "shift_called", {"by_m": 0.035})
    places = Places(preferences=Preferences(units="inch"))
    for known, words in ((Places(), "35 mm"), (places, "1.38 in")):
        face, _, out = plain_on(State.READY, places=known, lines=(line,))
        assert f"00:03  Called to shift the lap by {words}" in told(face, out)


def test_lines_go_on_when_old_ones_have_left() -> None:
    """The bench keeps only its newest lines; what it has let go does not bring old ones back."""
    face, player, out = plain_on(State.POLISH, lines=(Line(1.0, "Armed"), Line(2.0, "Polishing")))
    told(face, out)
    player.show(shot(State.POLISH, lines=(Line(2.0, "Polishing"), Line(3.0, "Wetted"))))
    assert told(face, out) == ["00:03  Wetted"]


def test_a_summary_every_ten_seconds() -> None:
    """While the table turns, one line every ten seconds; none at rest."""
    face, player, out = plain_on(State.POLISH)
    told(face, out)
    lines = told(face, out, 350)
    assert len(lines) == 3
    assert "10:13 left; table 25.9 rpm, lap 23.7 rpm, spin ratio 0.91, load 43 %; Spins true" in lines[0]
    player.show(shot(State.CLOSED, since_wetted_s=None))
    told(face, out)
    assert told(face, out, 350) == []


def test_a_call_and_a_fault_are_told() -> None:
    """Calls are told with what to do and how long there is; a fault with its reason."""
    face, player, out = plain_on(State.WET_DOWN)
    assert "CALL  WET THE WORK NOW: Flood the open glass, then answer: wetted (00:42 left)" in told(face, out)
    player.show(stopped("lap_stalled"))
    assert "The lap has stopped turning" in told(face, out)


@pytest.mark.parametrize("typed", ["", "stop", "STOP"])
def test_stop_by_an_empty_line(typed: str) -> None:
    """Enter alone is STOP, in every state."""
    face, player, _ = plain_on(State.POLISH)
    face.take(typed)
    assert player.acts == [Act.STOP]


def test_acts_by_name() -> None:
    """An act is typed by its name; one that means nothing now is answered and not sent."""
    face, player, out = plain_on(State.POLISH)
    face.take("wetted")
    face.take("arm")
    face.take("dance")
    assert player.acts == [Act.WETTED]
    assert "arm: not now (polishing)" in out.getvalue()
    assert "'dance' is not an act" in out.getvalue()


def test_a_note_keeps_its_words() -> None:
    """The rest of the line is the note."""
    face, player, _ = plain_on(State.POLISH)
    face.take("note Dull crescent, edge")
    assert player.done == [Done(Act.NOTE, "Dull crescent, edge")]


def test_a_look_in_one_line() -> None:
    """Six numbers are a look; a wrong one is refused in a sentence and nothing is kept."""
    looks: list[dict[str, Any]] = []

    def save(look: dict[str, Any]) -> str:
        looks.append(look)
        return "Kept in the logbook."

    face, player, out = plain_on(State.LOOK, Places(save_look=save))
    face.take("look 9 8 7 11 6 5")
    face.take("look 9 8 7")
    assert looks == []
    assert "zone 4.grey: 11 must be at most 10" in out.getvalue()
    assert "fewer than six values" in out.getvalue()
    face.take("look 9 8 - 7.5 6 5 pits m 12,9 - - - -")
    assert [zone.get("grey") for zone in looks[0]["zones"]] == [9.0, 8.0, None, 7.5, 6.0]
    assert [zone.get("pits") for zone in looks[0]["zones"][:2]] == [["too many"], [12, 9]]
    assert looks[0]["edge"] == {"grey": 5.0}
    assert player.acts == [Act.LOOKED]


def test_what_comes_from_outside_cannot_steer_the_terminal() -> None:
    """Escape characters in notes and names are made harmless."""
    face, _, out = plain_on(State.POLISH, lines=(Line(1.0, "note text \x1b[2J"),))
    told(face, out)
    assert "\x1b" not in out.getvalue()


def test_the_end_of_the_lines_stops_the_table() -> None:
    """When the typed lines end, the table is stopped, and the run ends once it rests."""
    player = Recorded([shot(State.POLISH)])
    out = io.StringIO()
    assert run_plain(player, out, source=io.StringIO("wetted\n")) == 0
    assert player.acts[:2] == [Act.WETTED, Act.STOP]
    assert player.closed == 1


class Gone(io.StringIO):
    """A reader that has gone away after the first lines."""

    def write(self, text: str) -> int:
        if "POLISHING" in text:
            raise BrokenPipeError
        return super().write(text)


def test_a_reader_that_went_away_stops_the_table() -> None:
    """If whatever reads the lines has gone, that is no defect: the table is stopped and the run ends."""
    player = Recorded([shot(State.POLISH)])
    assert run_plain(player, Gone(), source=io.StringIO("")) == 0
    assert player.acts[0] is Act.STOP
    assert player.closed == 1


def test_lines_need_no_screen_library() -> None:
    """The line mode starts without the terminal library, for small computers and slow disks."""
    code = "import sys, benchctl.tui.plain; print('textual' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "False"


def test_the_help_is_told_whole() -> None:
    """STOP stands first, every act is named, and no line is cut off."""
    face, _, out = plain_on(State.READY)
    face.take("help")
    lines = out.getvalue().splitlines()
    assert "STOP is not an emergency stop" in lines[0]
    assert all(act.value in out.getvalue() for act in Act if act not in (Act.STOP, Act.LOOKED))
    assert not any("…" in line for line in lines)
