"""Runs the screen on a player in a process of its own: FOLDER STATE [WHAT] are its arguments.

WHAT `crash` plants a defect in a page after some looks; `plain` tells lines instead of a screen. What the
bench was told is written to FOLDER/done.txt, the exit status is the screen's.
"""

from __future__ import annotations

import sys
from pathlib import Path

from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.tui import bench_app
from benchctl.tui.app import run_screen
from benchctl.tui.plain import run_plain
from benchctl.tui.polish import polish
from benchctl.tui.rows import Row
from benchctl.tui.view import View
from tests.tui.shots import Player, shot

LOOKS_BEFORE_THE_CRASH = 12


class Recorded(Player):
    """A player that comes to rest when told to stop, and writes down when it was closed."""

    def do(self, done: Done) -> None:
        super().do(done)
        if done.act is Act.STOP:
            self.show(shot(State.STANDING))

    def stop_now(self) -> None:
        self.do(Done(Act.STOP))

    def stop_and_close(self) -> None:
        super().stop_and_close()
        self.done_as_text = [str(done.act) for done in self.done]


def main(folder: Path, state: str, what: str) -> int:
    player = Recorded([shot(State(state))])
    if what == "crash":
        real, looks = polish, [0]

        def broken(view: View) -> list[Row]:
            looks[0] += 1
            if looks[0] > LOOKS_BEFORE_THE_CRASH:
                raise RuntimeError("planted defect")
            return real(view)

        bench_app.polish = broken  # type: ignore[attr-defined]
    if what == "plain":
        status = run_plain(player, sys.stdout, state_folder=folder)
    else:
        status = run_screen(player, state_folder=folder)
    (folder / "done.txt").write_text(f"{player.done_as_text} closed {player.closed}")
    return status


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2], sys.argv[3] if len(sys.argv) > 3 else ""))
