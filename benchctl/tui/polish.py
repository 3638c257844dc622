"""The place where the work is watched. Pure: rows from a view, for any size.

From top to bottom: what is happening and the time left, large; what to do now, large; the figures and the
lap in words; the strips. What does not fit is left out from the bottom: first the strips, then the figures.
"""

from __future__ import annotations

from functools import lru_cache

from benchctl.session.snapshot import Column, Snapshot
from benchctl.tui import lines
from benchctl.tui.banner import ARROW_COLUMNS, band, heights, large
from benchctl.tui.blocks import LETTER_ROWS, clock, clock_up, figures
from benchctl.tui.layout import FIGURES_ROWS, Rows, Wants, plan_rows
from benchctl.tui.paint import ALARM_LOOK, call_look, filled, lap_look, state_look
from benchctl.tui.rows import Row, beside, block, ends, fit, fitting, in_role, paragraphs, row
from benchctl.tui.signs import NO_WORD, NO_WORD_DO, NO_WORD_SENTENCE, do_sign, do_words
from benchctl.tui.strip import strip
from benchctl.tui.view import View

BAND = 0.12
"""The watcher calls a ratio normal within this share of what it expects."""
FIGURES_WIDTH = 47
RATIO_RANGE = (0.5, 1.1)
SHORT_FACTS = 30


def polish(view: View) -> list[Row]:
    """The whole page, `view.height` rows."""
    rows = layout(view)
    page = _sign(view, rows.word, rows.time) + _do(view, rows.do)
    if rows.figures:
        page += _figures(view)
    elif rows.lap:
        page.append(_lap_row(view))
    if rows.charts:
        page += _charts(view, rows.charts)
    return block(page, view.height)


def layout(view: View) -> Rows:
    """The rows of each part for this moment and size."""
    words = heights(headline(view.shot, view.stale), view.width - 1)
    acts = heights(NO_WORD_DO if view.stale else do_sign(view.shot), view.width - ARROW_COLUMNS)
    return plan_rows(view.width, view.height, Wants(words, acts, bool(view.slow.chart)))


def _sign(view: View, word_rows: int, time_rows: int) -> list[Row]:
    """State and time, large; in a call both stand on its colour, the whole width."""
    role, shape = ("danger", "■") if view.stale else state_look(view.shot)
    ground = role if filled(role) and not view.blink else "band" if filled(role) else ""
    ink = ground or "strong"
    rows = _word(view, word_rows, ink, shape) + _time(view, time_rows, ink)
    return [fit(in_role(line, ground) if ground else line, view.width, ground) for line in rows]


def headline(shot: Snapshot, stale: bool) -> str:
    """The word for what is happening; what is called for, where it is short enough to be seen far off."""
    if stale:
        return NO_WORD
    if shot.call is not None and shot.call.pattern in ("caution", "wet_down"):
        return shot.call.title.upper()
    if shot.press is not None:
        return "COLD PRESS"
    return shot.headline


def _word(view: View, rows: int, ink: str, shape: str) -> list[Row]:
    turning = row(_turning(view))
    blocks = _headline_blocks(view, rows) if rows >= LETTER_ROWS else None
    if blocks is None:
        word = headline(view.shot, view.stale)
        spaced = " ".join(word) if 2 * len(word) + 6 < view.width else word
        line = row((f" {shape} {spaced}", ink))
        return block([*[()] * ((rows - 1) // 2), ends(line, turning, view.width)], rows)
    side = turning if _room_beside(blocks, turning, view.width) else ()
    shown = [
        ends(row((f" {text}", ink)), side if y == 1 else (), view.width) for y, text in enumerate(blocks)
    ]
    return block(shown, rows)


def _headline_blocks(view: View, rows: int) -> tuple[str, ...] | None:
    """The headline in block letters: what is called where it fits, else the state."""
    blocks = large(headline(view.shot, view.stale), view.width - 1, rows=rows)
    return (
        blocks if blocks is not None or view.stale else large(view.shot.headline, view.width - 1, rows=rows)
    )


def _stands_large(view: View) -> bool:
    """Whether the headline stands in block letters, and not a shorter one in its place."""
    return large(headline(view.shot, view.stale), view.width - 1, rows=layout(view).word) is not None


def _room_beside(blocks: tuple[str, ...], turning: Row, width: int) -> bool:
    return len(blocks[0]) + len(turning[0][0]) + 4 <= width


def _turning(view: View) -> tuple[str, str]:
    role, words = lines.turning(view.shot, view.stale)
    return f"{words} ", role


def _time(view: View, rows: int, ink: str) -> list[Row]:
    seconds, grows, what = lines.big_time(view.shot)
    text = "--:--" if view.stale else clock_up(seconds) if grows else clock(seconds)
    shown = [row((f" {line}", ink)) for line in figures(text, rows)]
    used = len(shown[0][0][0]) + 3
    if view.width < used + 12:
        return shown
    return beside(shown, _facts(view, what, view.width - used, rows), used, view.width)


def _facts(view: View, what: str, width: int, rows: int) -> list[Row]:
    """Beside the time: what it is, what is called or comes next, water, turns."""
    shot, short = view.shot, width < SHORT_FACTS
    kind = "" if shot.call is None else "{1} {2}, ".format(*call_look(shot))
    muted = shot.call is not None and shot.call.silenced
    named = lines.why(shot)
    if shot.call is not None and not named and (muted or not _stands_large(view)):
        named = shot.call.title
    facts = [(f"{kind}{what}", "strong")]
    blocks = _headline_blocks(view, layout(view).word)
    if blocks is not None and not _room_beside(blocks, row(_turning(view)), view.width):
        facts.append(_turning(view))
    facts += [
        (f"{named}{' (muted)' if muted else ''}", "strong"),
        (lines.ahead(shot, short), ""),
        (lines.water(view.slow, short), "abnormal" if lines.dry_soon(view.slow) else ""),
        (lines.turns(view.slow, short), ""),
    ]
    return paragraphs(facts, width, rows)


def _do(view: View, rows: int) -> list[Row]:
    """What the person should do now, in the colour of what is called."""
    role = state_look(view.shot)[0]
    ground = role if filled(role) else "band"
    if view.stale:
        return band(NO_WORD_DO, NO_WORD_SENTENCE, view.width, rows, ground)
    return band(do_sign(view.shot), do_words(view.shot), view.width, rows, ground)


def _lap_row(view: View) -> Row:
    role, shape = lap_look(view.slow.lap.state)
    ratio = lines.number(view.slow.lap.spin_ratio, 2)
    return ends(row((f" {shape} {view.slow.lap.words} ", role)), row(f"spin ratio {ratio} "), view.width)


def _figures(view: View) -> list[Row]:
    """Asked, measured, expected at the left; the lap in words and what stands or happened at the right."""
    table = lines.figures(_unsure(view.slow) if view.stale else view.slow)
    left = [row(" ", (table[0], "quiet")), *(row(f" {line}") for line in table[1:])]
    if view.width < FIGURES_WIDTH + 20:
        return [*left[: FIGURES_ROWS - 1], _lap_row(view)]
    return beside(left, _lap(view, view.width - FIGURES_WIDTH - 1), FIGURES_WIDTH + 1, view.width)


def _unsure(shot: Snapshot) -> Snapshot:
    from dataclasses import replace

    lap = shot.lap._replace(spin_ratio=None, lap_rpm=None)
    return replace(shot, set_rpm=None, table_rpm=None, load_percent=None, lap=lap)


def _lap(view: View, width: int) -> list[Row]:
    """The lap in words, what stands, and what happened last; what does not fit whole is left out."""
    shot = view.slow
    role, shape = lap_look(shot.lap.state)
    texts = [(f"{shape} {shot.lap.words}", role)]
    if not shot.record_kept:
        texts.append(("▲ record waits for the disk", "abnormal"))
    elif shot.alarms:
        texts += _alarms(shot)
    else:
        texts.append((shot.lap.reason, "quiet"))
    found = fitting(texts, width, FIGURES_ROWS)
    last = shot.lines[-1] if shot.lines else None
    if last is not None and len(found) < FIGURES_ROWS:
        found.append(fit(row((f"{clock_up(last.at_s)} {lines.happened(last, view.units)}", "quiet")), width))
    return found


def _alarms(shot: Snapshot) -> list[tuple[str, str]]:
    """The first alarm: its figures where it is named already, else what it is; and how many there are."""
    first, more = shot.alarms[0], len(shot.alarms) + len(shot.folded) - 1
    shape, role = ALARM_LOOK[first.priority]
    called = shot.call is not None and shot.call.title == first.title
    text = first.detail if called else f"{shape} {first.title}: {first.do}"
    others = f"and {more} more, 0 lists them" if more else ""
    return [(text, "" if called or first.acknowledged else role), (others, "strong")]


def _charts(view: View, rows: int) -> list[Row]:
    """Spin ratio and load side by side; drawn again only when a column has come or the size changed."""
    shot = view.slow
    expected = shot.lap.expected_ratio or 1.0
    band = (round(expected * (1.0 - BAND), 3), round(min(1.1, expected * (1.0 + BAND)), 3))
    half = (view.width - 3) // 2
    return list(_drawn(shot.chart, half, rows, band, expected, view.width))


@lru_cache(maxsize=4)
def _drawn(
    chart: tuple[Column, ...], half: int, rows: int, band: tuple[float, float], expected: float, width: int
) -> tuple[Row, ...]:
    shown = chart[-2 * half :]
    span = f", last {max(1, round((shown[-1].at_s - shown[0].at_s) / 60))} min" if len(shown) > 1 else ""
    left_title = f"spin ratio, normal {band[0]:.2f} to {band[1]:.2f}"
    ratios = strip([c.spin_ratio for c in chart], half, rows - 1, *RATIO_RANGE, band, expected)
    loads = strip([c.load_percent for c in chart], half, rows - 1, 0.0, 100.0, None, 0.0)
    left = [row((left_title, "quiet")), *(row(line) for line in ratios)]
    right = [row((f"motor load, 0 to 100 %{span}", "quiet")), *(row(line) for line in loads)]
    return tuple((*row(" "), *line) for line in beside(left, right, half + 1, width - 1))
