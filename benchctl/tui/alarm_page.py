"""The list of alarms: the first cause on top, its consequences beneath, advice put aside below. Pure."""

from __future__ import annotations

from benchctl.session.acts import Act
from benchctl.session.snapshot import Alarm
from benchctl.tui.blocks import clock_up
from benchctl.tui.paint import ALARM_LOOK
from benchctl.tui.rows import Row, block, centred, ends, row, wrapped
from benchctl.tui.view import View

ANSWERS = (
    Act.WATCHING, Act.LAP_STANDS, Act.TAKE_SLOWER, Act.ACCEPT_LEVEL,
    Act.ACKNOWLEDGE, Act.SILENCE, Act.RESET, Act.SHELVE, Act.UNSHELVE,
)  # fmt: skip
"""Acts whose keys work while the list is shown."""


def alarm_page(view: View) -> list[Row]:
    """The whole page, `view.height` rows; what does not fit is counted."""
    shot = view.shot
    count = len(shot.alarms) + len(shot.folded)
    head = f"{count} ALARM{'S' * (count != 1)}, FIRST CAUSE ON TOP" if count else "NO ALARM STANDS"
    body: list[Row] = []
    for alarm in shot.alarms:
        body += [(), *_top(alarm, view)]
        body += [_folded(one, view.width) for one in shot.folded if one.cause == alarm.name]
    for alarm in shot.shelved:
        left_s = (alarm.shelved_until_s or shot.now_s) - shot.now_s
        body.append(row(f"   put aside for {clock_up(left_s)}: {alarm.title}"))
    rows = view.height - 2
    if len(body) > rows:
        hidden = len(body) - rows + 1
        body = [*body[: rows - 1], row((f"   and {hidden} more rows", "quiet"))]
    return [centred(head, view.width, "band"), *block(body, rows), row((" 0 closes this page.", "quiet"))]


def _top(alarm: Alarm, view: View) -> list[Row]:
    shape, role = ALARM_LOOK[alarm.priority]
    if not alarm.active:
        role = "strong"
    age_s = view.shot.now_s - alarm.since_s
    line = ends(
        row((f" {shape} {alarm.title} ", role)), row(f"{_standing(alarm)}, {clock_up(age_s)} "), view.width
    )
    indented = [*wrapped(f"▶ {alarm.do}", view.width - 4), *wrapped(alarm.detail, view.width - 4, "quiet")]
    return [line, *((*row("   "), *more) for more in indented)]


def _standing(alarm: Alarm) -> str:
    """How it stands, in words: whether it was seen, whether its cause is gone."""
    words = ["seen" if alarm.acknowledged else "not seen"]
    if alarm.silenced and not alarm.acknowledged:
        words.append("muted")
    if not alarm.active:
        words.append("gone")
    if alarm.latched:
        words.append("held")
    return ", ".join(words)


def _folded(alarm: Alarm, width: int) -> Row:
    seen = "" if alarm.acknowledged else "not seen "
    return ends(row((f"   └ {alarm.title}", "quiet")), row((seen, "quiet")), width)
