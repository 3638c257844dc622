"""The place before the start: the mark, huge; the set-up in figures; what must be true before arming."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from benchctl.session.snapshot import Snapshot
from benchctl.tui.digits import big, clock
from benchctl.tui.paint import NEUTRAL, QUIET, REVERSED
from benchctl.tui.quiet_static import Quiet

CHECKS = (
    "Lap pressed, brushed, rinsed, charged; drag even by hand?",
    "Weights captured on the lap? Post offset set and cleats tight?",
    "Hard-wired emergency stop pressed and released this session?",
    "Sleeves, hair, towels and cords clear of table, lap and post?",
)
CAUTION = "STOP here is not an emergency stop. Never leave the table turning unattended."


class PreparePlace(Vertical):
    """What to set and to check before arming."""

    def compose(self) -> ComposeResult:
        with Horizontal(id="mark_row"):
            yield Quiet(id="mark_digits")
            with Vertical(id="mark_words"):
                yield Quiet(id="mark_what")
                yield Quiet(id="set_mirror")
                yield Quiet(id="set_load")
                yield Quiet(id="set_post")
                yield Quiet(id="set_plan")
        yield Quiet(id="prepare_do")
        yield Quiet(id="checks")
        yield Quiet(id="recovered")
        yield Quiet(id="caution")

    def show(self, shot: Snapshot) -> None:
        """Show the set-up of the next segment."""
        mark = "--" if shot.mark is None else f"{shot.mark:d}"
        self._put("mark_digits", "\n".join(big(f"{mark:>2}")), NEUTRAL)
        self._put("mark_what", "mark to set" if shot.mark is not None else "no mark drawn", QUIET)
        self._put("set_mirror", shot.mirror, NEUTRAL)
        held = "captured" if shot.weights_captured else "LOOSE"
        self._put("set_load", f"load {shot.load_n:.0f} N ({shot.load_n / 9.80665:.1f} kg), {held}")
        self._put("set_post", f"post offset {shot.post_offset_m * 1000:.0f} mm")
        self._put("set_plan", f"{clock(shot.planned_s)} at {shot.work_rpm:g} rpm")
        self._put("prepare_do", f" ▶ {shot.do_now} ", REVERSED)
        self._put("checks", "\n".join(f"□ {line}" for line in CHECKS))
        self._put("recovered", f"▲ {shot.recovered}" if shot.recovered else "")
        self._put("caution", CAUTION, QUIET)

    def _put(self, name: str, text: str, style: str = "") -> None:
        self.query_one(f"#{name}", Quiet).show(text, style)
