"""The place where the work is watched: time left, what to do, speeds, the lap in words, the strips."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from benchctl.session.snapshot import Column, Snapshot
from benchctl.tui import lines
from benchctl.tui.digits import big, clock
from benchctl.tui.paint import NEUTRAL, QUIET, REVERSED, call_look, lap_look, state_look
from benchctl.tui.quiet_static import Quiet
from benchctl.tui.strip import strip

BAND = 0.12
"""The watcher calls a ratio normal within this share of what it expects."""
RATIO_ROWS = 3
LOAD_ROWS = 2


class PolishPlace(Vertical):
    """Everything that matters while the table turns."""

    def compose(self) -> ComposeResult:
        yield Quiet(id="call")
        with Horizontal(id="top"):
            yield Quiet(id="digits")
            with Vertical(id="facts"):
                yield Quiet(id="what")
                yield Quiet(id="ahead")
                yield Quiet(id="water")
                yield Quiet(id="turns")
                yield Quiet(id="turning")
        yield Quiet(id="do")
        with Horizontal(id="middle"):
            yield Quiet(id="figures")
            with Vertical(id="lap"):
                yield Quiet(id="lapword")
                yield Quiet(id="lapreason")
                yield Quiet(id="alarm")
        with Vertical(id="ratio_block"):
            yield Quiet(id="ratio_title")
            yield Quiet(id="ratio")
        with Vertical(id="load_block"):
            yield Quiet(id="load_title")
            yield Quiet(id="load")
        yield Quiet(id="last")

    def on_mount(self) -> None:
        self._charted: tuple[Column, ...] | None = None
        self._charted_width = 0

    def show_time(self, shot: Snapshot) -> None:
        """What changes ten times a second: the countdown and the call."""
        time, what = lines.big_time(shot)
        style, _ = state_look(shot)
        self._put("digits", "\n".join(big(time)), NEUTRAL if "on" in style.split() else style)
        self._put("what", what, QUIET)
        self._put("ahead", lines.ahead(shot))
        call = self.query_one("#call", Quiet)
        call.display = shot.call is not None
        if shot.call is not None:
            call_style, shape = call_look(shot.call.pattern)
            due = "" if shot.call.due_in_s is None else f"  {clock(shot.call.due_in_s)}"
            muted = "  (muted)" if shot.call.silenced else ""
            words = f"{shape}  {shot.call.title}{due}{muted}  {shape}"
            width = self.size.width
            text = f"{words:^{width}}\n{shot.call.do:^{width}}"
            call.show(text, call_style)

    def show(self, shot: Snapshot) -> None:
        """What changes a few times a second."""
        self._put("water", lines.water(shot))
        self._put("turns", lines.turns(shot))
        self._put("turning", lines.turning(shot), NEUTRAL)
        self._put("do", f" ▶ {shot.do_now} ", REVERSED)
        self._put("figures", "\n".join(lines.figures(shot)))
        style, shape = lap_look(shot.lap.state)
        self._put("lapword", f"{shape} {shot.lap.words or 'Lap not turning yet'}", style)
        self._put("lapreason", shot.lap.reason, QUIET)
        standing = [alarm for alarm in shot.alarms if alarm.active]
        self._put("alarm", f"▲ {standing[0].title}: {standing[0].do}" if standing else "")
        last = shot.lines[-1] if shot.lines else None
        self._put("last", "" if last is None else f"{clock(last.at_s)}  {last.words}", QUIET)
        self._charts(shot)

    def fit(self, rows: int, calling: bool) -> None:
        """Leave out what does not fit: the charts first, then the figures; never the time and what to do."""
        left = rows - 6 - (2 if calling else 0)
        for name, need in (("#middle", 5), ("#last", 1), ("#ratio_block", 4), ("#load_block", 3)):
            fits = left >= need
            self.query_one(name).display = fits
            left -= need if fits else 0

    def _charts(self, shot: Snapshot) -> None:
        """The strips, drawn again only when a column has come or the width has changed."""
        width = max(10, self.size.width - 2)
        if self._charted is shot.chart and self._charted_width == width:
            return
        self._charted, self._charted_width = shot.chart, width
        expected = shot.lap.expected_ratio or 1.0
        band = (expected * (1.0 - BAND), min(1.1, expected * (1.0 + BAND)))
        ratios = [column.spin_ratio for column in shot.chart]
        loads = [column.load_percent for column in shot.chart]
        self._put(
            "ratio_title", f"spin ratio, 0.4 to 1.2; dots: normal {band[0]:.2f} to {band[1]:.2f}", QUIET
        )
        self._put("ratio", "\n".join(strip(ratios, width, RATIO_ROWS, 0.4, 1.2, band)))
        self._put("load_title", "motor load, 0 to 100 %", QUIET)
        self._put("load", "\n".join(strip(loads, width, LOAD_ROWS, 0.0, 100.0)))

    def _put(self, name: str, text: str, style: str = "") -> None:
        self.query_one(f"#{name}", Quiet).show(text, style)
