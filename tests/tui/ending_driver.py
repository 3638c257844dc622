"""Runs the screen on a player in a process of its own: FOLDER STATE [WHAT] are its arguments.

WHAT plants a defect after some looks: `page` in a page, `widget` in the widget's drawing, `timer` in what is
done ten times a second, `key` in the keys; `plain` tells lines instead of a screen. What the bench was told
is written to FOLDER/done.txt, the exit status is the screen's.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.tui import bench_app
from benchctl.tui.app import run_screen
from benchctl.tui.calls import Caller
from benchctl.tui.face import Face
from benchctl.tui.plain import run_plain
from benchctl.tui.sheet import Sheet
from tests.tui.shots import Player, shot


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


DEFECTS: dict[str, tuple[Any, str, int]] = {
    "page": (bench_app, "polish", 12),
    "widget": (Sheet, "render_line", 60),
    "timer": (Caller, "see", 12),
    "key": (Face, "key", 12),
}
"""Where a defect can be planted, and after how many calls it breaks."""


def breaking(real: Callable[..., Any], after: int) -> Callable[..., Any]:
    """The function, which raises once it has been called some times."""
    calls = [0]

    def broken(*arguments: Any) -> Any:
        calls[0] += 1
        if calls[0] > after:
            raise RuntimeError("planted defect")
        return real(*arguments)

    return broken


def main(folder: Path, state: str, what: str) -> int:
    player = Recorded([shot(State(state))])
    if what in DEFECTS:
        owner, name, after = DEFECTS[what]
        setattr(owner, name, breaking(getattr(owner, name), after))
    if what == "plain":
        status = run_plain(player, sys.stdout, state_folder=folder)
    else:
        status = run_screen(player, state_folder=folder)
    (folder / "done.txt").write_text(f"{player.done_as_text} closed {player.closed}")
    return status


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2], sys.argv[3] if len(sys.argv) > 3 else ""))
