"""Every page, in every state, at every size: nothing cut off, and what must never be missing is there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from benchctl.guard.words import REASONS
from benchctl.models.weights import Piece
from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.session.snapshot import Alarm, Call, Snapshot
from benchctl.tui import lines, pages
from benchctl.tui.alarm_page import alarm_page
from benchctl.tui.checklist import Checklist, questions
from benchctl.tui.entry import LookEntry
from benchctl.tui.frame import BAR_ROWS, FOOT_ROWS, PLACES, brief, screen
from benchctl.tui.layout import Wants, plan_rows
from benchctl.tui.look import look
from benchctl.tui.polish import layout, polish
from benchctl.tui.prepare import Preparation, prepare
from benchctl.tui.rows import Row, plain, width_of
from benchctl.tui.signs import KEY_OF, NARROW, do_sign, do_words, keys_line
from benchctl.tui.typed import TYPED, typed_page
from benchctl.tui.view import View
from benchctl.units import INCH, METRIC
from tests.tui.seen import stands_in_blocks
from tests.tui.shots import PIECES, acts, caution, lap, shot, stopped

SIZES = [(80, 24), (60, 16)]
OTHER_SIZES = [(40, 10), (20, 5), (100, 30), (132, 43), (200, 60)]
SHOTS: dict[str, Snapshot] = {
    **{str(state): shot(state) for state in State},
    **{f"stopping {reason}": stopped(reason) for reason in REASONS},
    **{f"standing {reason}": stopped(reason, State.STANDING) for reason in REASONS},
    "jerky": caution("lap_jerky", "Lap jerks", "Wet it or slow down"),
    "silent": caution("lap_sensor_dead", "Lap sensor silent", "Is the lap turning? Look at it"),
    "fast": caution("lap_fast", "Lap runs with the mirror", "Look at the post and the weights"),
    "losing": shot(
        State.POLISH, lap=lap("slowing", "Lap is losing speed - probably drying, wet it", 0.71, 26.0)
    ),
    "unheard": shot(State.READY, link="not_connected", table_rpm=None, set_rpm=None, load_percent=None),
    "no mark": shot(State.READY, mark=None),
    "not on disk": shot(State.POLISH, record_kept=False),
    "real": shot(State.POLISH, simulated=False),
}


def view_of(snapshot: Snapshot, width: int, height: int, **more: Any) -> View:
    return View(snapshot, snapshot, width, max(1, height - BAR_ROWS - FOOT_ROWS), 16.0, **more)


def pages_of(view: View) -> dict[str, list[Row]]:
    """Every page that can be shown of a moment, by name."""
    asked = questions(view.shot, PIECES)
    checklist = Checklist()
    return {
        "polish": polish(view),
        "prepare": prepare(view, Preparation(checklist, asked)),
        "look": look(view, LookEntry(), ""),
        "brief": brief(view),
        "keys": pages.keys_page(view),
        "note": typed_page(view, TYPED["note"], "dull crescent at the edge", True),
    }


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("name", SHOTS)
def test_no_word_is_cut_off(name: str, size: tuple[int, int]) -> None:
    """At 80x24 and at 60x16 no page of any moment shortens a word (notices of the log excepted)."""
    view = view_of(SHOTS[name], *size)
    for page, rows in pages_of(view).items():
        for line in screen(view, "polish", rows, keys_line(view.shot, view.width - 2)):
            assert "…" not in plain(line), f"{page}: {plain(line)}"


@pytest.mark.parametrize("size", SIZES + OTHER_SIZES, ids=str)
@pytest.mark.parametrize("name", ["polish", "wet_down", "standing lap_grabbed", "ready", "look", "real"])
def test_every_row_is_as_wide_as_the_screen(name: str, size: tuple[int, int]) -> None:
    """Whatever the size, a screen has just its rows and columns."""
    width, height = size
    view = view_of(SHOTS[name], *size)
    for page, rows in pages_of(view).items():
        assert page == "brief" or len(rows) == view.height, page
        whole = screen(view, "polish", rows, keys_line(view.shot, width - 2))
        assert len(whole) == view.height + BAR_ROWS + FOOT_ROWS
        assert all(width_of(line) == width for line in whole), page
        assert height < 4 or len(whole) == height


@pytest.mark.parametrize("size", SIZES + OTHER_SIZES[2:], ids=str)
@pytest.mark.parametrize("place", [name for name, _ in PLACES])
def test_simulated_and_stop_are_never_out_of_sight(place: str, size: tuple[int, int]) -> None:
    """On every place and size the bench is named SIMULATED with its pace, and the key of STOP is named."""
    view = view_of(SHOTS["polish"], *size)
    rows = [plain(line) for line in screen(view, place, polish(view), "")]
    assert "SIMULATED x16" in rows[0]
    assert "SPACE = STOP" in rows[-2]


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("state", State)
def test_every_place_says_what_to_do(state: State, size: tuple[int, int]) -> None:
    """Away from the work two rows say what happens, what to do, what comes next and when."""
    snapshot = shot(state)
    said, ahead = (plain(line) for line in brief(view_of(snapshot, *size)))
    assert do_words(snapshot) in said or do_sign(snapshot) in said
    assert lines.ahead(snapshot) in ahead


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_every_key_is_on_its_page(size: tuple[int, int]) -> None:
    """No key is left out of the page of keys for want of room."""
    text = [plain(line) for line in pages.keys_page(view_of(SHOTS["polish"], *size))]
    for key, name in KEY_OF.values():
        assert any(f" {key} {name}" in line for line in text), name
    for key, name, short in pages.OTHER_KEYS:
        assert any(f"{key} {name}" in line or f"{key} {short}" in line for line in text), name


def test_a_real_bench_is_not_called_simulated() -> None:
    """The word stands only where it is true."""
    view = view_of(SHOTS["real"], 80, 24)
    assert "SIMULATED" not in "".join(plain(line) for line in screen(view, "polish", polish(view), ""))


@pytest.mark.parametrize("size", [(80, 24), (60, 16)], ids=str)
@pytest.mark.parametrize("state", State)
def test_what_happens_how_long_what_next_what_to_do(state: State, size: tuple[int, int]) -> None:
    """In every state the page says what is happening, the time in figures of five rows, and what to do."""
    view = view_of(shot(state), *size)
    rows = [plain(line) for line in polish(view)]
    snapshot = shot(state)
    words = [snapshot.headline, "" if snapshot.call is None else snapshot.call.title, do_sign(snapshot)]
    forms = [[form for form in (one, NARROW.get(one)) if form] for one in words]
    assert any(stands_in_blocks(form, rows) for form in forms[0] + forms[1])
    assert any(stands_in_blocks(form, rows) for form in forms[2])
    assert sum("██" in line for line in rows) >= 5
    assert any("▶" in line for line in rows)
    assert any("next" in line for line in rows)


def test_the_small_screen_leaves_out_charts_then_figures() -> None:
    """With fewer rows the strips go first, then the figures; time, word and act stay."""
    wants = Wants((3, 6), (3, 6), chart=True)
    heights = {height: plan_rows(80, height, wants) for height in range(7, 70)}
    for height, rows in heights.items():
        assert sum(rows) <= height
        assert rows.time >= 5
        assert rows.word >= 1
        assert rows.do >= 1
        assert not rows.charts or rows.figures, f"charts without figures at {height} rows"
    assert heights[21].charts >= 4
    assert heights[13].charts == 0
    assert heights[17].figures == 5
    assert heights[17].charts == 0
    assert plan_rows(80, 21, Wants((3, 6), (3, 6), chart=False)).do == 7


def test_a_large_screen_leaves_no_rows_idle() -> None:
    """At 200x60 word, time and act take more than half of the page while polishing, and no row is empty."""
    view = view_of(SHOTS["polish"], 200, 60)
    rows = layout(view)
    assert rows.word + rows.time + rows.do > view.height / 2
    assert sum(rows) >= view.height - 1


def test_a_call_fills_the_width_with_its_colour() -> None:
    """The call for water is a banner as wide as the screen, with its own countdown."""
    view = view_of(SHOTS["wet_down"], 80, 24)
    rows = polish(view)
    for line in rows[:8]:
        assert {role for _, role in line} == {"required"}
        assert width_of(line) == 80
    text = [plain(line) for line in rows]
    assert stands_in_blocks("WET THE WORK NOW", text)
    assert stands_in_blocks("WET, THEN KEY W", text)


def test_every_call_has_a_word_and_a_shape_besides_its_colour() -> None:
    """Without colour a call is still told from another: ≈ water, ▼ lift, ▲ caution, ■ fault."""
    for name, sign in (
        ("wet_down", "≈ WATER"),
        ("standing", "▼ LIFT"),
        ("jerky", "▲ CAUTION"),
        ("stopping lap_stalled", "■ FAULT"),
    ):
        rows = [plain(line) for line in polish(view_of(SHOTS[name], 80, 24))]
        assert any(sign in line for line in rows), sign


def test_an_offer_is_no_caution() -> None:
    """An act that is only asked for - to speed up, to wet in time - is blue, not the yellow of trouble."""
    due = Call("caution", "WETTING IS DUE", "Wet the open glass, then answer: wetted", None)
    for snapshot, sign in ((shot(State.OFFERED), "● YOUR TURN"), (shot(State.POLISH, call=due), "≈ WATER")):
        rows = polish(view_of(snapshot, 80, 24))
        assert {role for _, role in rows[0]} == {"required"}
        assert any(sign in plain(line) for line in rows)


@pytest.mark.parametrize(("name", "sign"), [("lap_jerky", "WET, THEN KEY W"), ("lap_fast", "LOOK AT POST")])
def test_each_alarm_has_its_act(name: str, sign: str) -> None:
    """What stands large is what this alarm wants, not what another would."""
    rows = [plain(line) for line in polish(view_of(caution(name, "Lap", "Do it"), 80, 24))]
    assert stands_in_blocks(sign, rows)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_call_too_long_for_letters_is_named_in_words(size: tuple[int, int]) -> None:
    """Where the call's title does not fit in block letters it stands beside the time."""
    title = "Lap runs with the mirror, it seems"
    rows = polish(view_of(caution("lap_fast", title, "Look at the post"), *size))
    assert title in " ".join(" ".join(plain(line)[38:].split()) for line in rows)


def test_a_lost_link_is_told_whatever_else_is_said() -> None:
    """A word of the program's own does not hide that the board is gone."""
    view = view_of(shot(State.STOPPING, link="lost"), 80, 24)
    assert "■ LINK LOST no sound here" in plain(screen(view, "polish", [], "", "no sound here")[-2])


def test_a_fault_says_why_and_what_to_do() -> None:
    """After a stop the cause stands there in words, and the act in large letters."""
    rows = [plain(line) for line in polish(view_of(SHOTS["stopping lap_grabbed"], 80, 24))]
    assert any("The lap grabbed the glass" in line for line in rows)
    assert any("Do not pull up; flood it and slide it off" in line for line in rows)
    assert stands_in_blocks("DO NOT PULL UP", rows)


@pytest.mark.parametrize("reason", REASONS)
def test_what_stands_large_after_a_stop_fits_its_sentence(reason: str) -> None:
    """Who must keep away is told so in large letters too, and nobody else is sent to the lap with a hose."""
    sign, sentence = do_sign(stopped(reason)), REASONS[reason].do.lower()
    if sentence.startswith("stay"):
        assert sign == "STAY BACK"
    elif "wet" not in sentence and "flood" not in sentence:
        assert sign not in ("WET THE EDGE NOW", "FLOOD IT FIRST")


def test_turning_is_shown_from_the_sensor() -> None:
    """A table that was told to turn but does not is shown at rest, and the other way round."""
    resting = shot(State.POLISH, turning=False, table_rpm=0.0)
    turning = shot(State.CLOSED, turning=True, table_rpm=5.0)
    assert any("TABLE AT REST" in plain(line) for line in polish(view_of(resting, 80, 24)))
    assert any("TABLE TURNS" in plain(line) for line in polish(view_of(turning, 80, 24)))


def test_unknown_values_are_dashes() -> None:
    """What is not measured, or is too old, stands as -- and never as the last value."""
    lost = shot(
        State.POLISH, link="lost", set_rpm=None, table_rpm=None, load_percent=None, turning=False,
        lap=lap("steady", "Spins true", None, 26.0),
    )  # fmt: skip
    rows = [plain(line) for line in polish(view_of(lost, 80, 24))]
    table = next(line for line in rows if "table rpm" in line)
    assert table.split()[2:4] == ["--", "--"]
    assert any("NO WORD" in line for line in rows)


def test_a_silent_bench_loop_shows_no_old_figures() -> None:
    """If the program's own bench loop hangs, time and figures turn to dashes and the screen says so."""
    view = view_of(SHOTS["polish"], 80, 24, stale=True)
    rows = [plain(line) for line in polish(view)]
    assert stands_in_blocks("NO WORD", rows)
    assert next(line for line in rows if "table rpm" in line).split()[2:4] == ["--", "--"]


def test_standing_on_the_glass_counts_up() -> None:
    """After the stop the large time is how long the lap has stood on the glass."""
    rows = [plain(line) for line in polish(view_of(SHOTS["standing"], 80, 24))]
    assert any("lap standing on the glass" in line for line in rows)


def test_outside_text_is_no_markup() -> None:
    """A mirror's name with brackets or escape characters is shown as it is, or made harmless."""
    evil = "[red]460[/red] \x1b[31m"
    view = view_of(shot(State.READY, mirror=evil), 80, 24)
    page = prepare(view, Preparation(Checklist(), questions(view.shot)))
    text = "".join(plain(line) for line in screen(view, "prepare", page, ""))
    assert "[red]460[/red]" in text
    assert "\x1b" not in text


def words_beside(page: list[Row], columns: int) -> str:
    """The text to the right of `columns`, its lines joined."""
    return " ".join(" ".join(plain(line)[columns:].split()) for line in page)


def answered(*names: str) -> Checklist:
    """A checklist with these questions answered."""
    checklist = Checklist()
    checklist.answers |= dict.fromkeys(names, "yes")
    return checklist


def test_the_mark_fills_the_page_until_it_is_confirmed() -> None:
    """At 80x24 the mark stands thirteen rows high until Y; then the other questions have the room."""
    view = view_of(shot(State.READY), 80, 24)
    asked = questions(view.shot, PIECES)
    rows = [
        sum("████" in plain(line)[:40] for line in prepare(view, Preparation(checklist, asked)))
        for checklist in (Checklist(), answered("mark"))
    ]
    assert rows[0] >= 13
    assert rows[1] < 10


def test_what_few_targets_cannot_show_is_said() -> None:
    """What the lap's sensor is blind for stands on the preparation, where there is anything."""
    view = view_of(shot(State.READY), 80, 24)
    asked = questions(view.shot, PIECES)
    blind = "2 targets: a jerk once a turn can hardly be seen"
    page = prepare(view, Preparation(Checklist(), asked, (), blind))
    assert f"▲ lap sensor: {blind}" in words_beside(page, 20)


def test_what_is_set_otherwise_is_pointed_out() -> None:
    """What differs from the last segment stands on the preparation with a sign of its own."""
    view = view_of(shot(State.READY), 80, 24)
    asked = questions(view.shot)
    page = prepare(view, Preparation(Checklist(), asked, ["post 131 mm, was 128 mm"]))
    assert "▲ not as last time: post 131 mm, was 128 mm" in words_beside(page, 20)


def test_units_as_the_person_chose() -> None:
    """The same set-up in kilograms and millimetres, or in pounds and inches (25.4 mm, 0.45359237 kg)."""
    view = view_of(shot(State.READY, load_n=45.359237 * 9.80665, post_offset_m=0.127), 80, 24)
    pieces = (Piece(mass_kg=2 * 0.45359237), Piece(mass_kg=2 * 0.45359237), Piece(mass_kg=0.45359237))
    metric = ("445 N (45.4 kg)", "Post at 127 mm", "2 x 0.91 + 0.45 = 2.27 kg")
    inch = ("load 100.0 lb", "Post at 5.00 in", "2 x 2 + 1 = 5 lb")
    for system, words in ((METRIC, metric), (INCH, inch)):
        asked = questions(view.shot, pieces, system)
        text = " ".join(
            plain(line) for line in prepare(replace(view, units=system), Preparation(answered("mark"), asked))
        )
        assert all(word in text for word in words), text


def test_a_board_that_holds_its_stop_wants_a_reset() -> None:
    """After a fault it wants to be seen first, then reset where that is possible; neither starts anything."""
    alarm = Alarm("overspeed", 1, "The table ran too fast", "Stay back", 5.0, False, False, latched=True)
    seen = alarm._replace(acknowledged=True)
    for standing, allowed, sign in (
        (alarm, {Act.ACKNOWLEDGE}, "SEEN? KEY K"),
        (seen, {Act.RESET}, "RESET: KEY X"),
        (seen._replace(active=True), set(), "FIND THE CAUSE"),
    ):
        held = shot(State.READY, alarms=(standing,), allowed=acts(State.READY) | allowed)
        page = [plain(line) for line in pages_of(view_of(held, 80, 24))["prepare"]]
        assert stands_in_blocks(sign, page)
        assert any("That starts nothing" in line for line in page) == bool(allowed)


def test_the_list_of_alarms_folds_consequences_beneath_their_cause() -> None:
    """One line a cause, worst first; what follows from it stands beneath; advice put aside is told."""
    cause = Alarm(
        "lap_stalled", 1, "The lap has stopped", "Wet now", 60.0, True, False, detail="0.0 rpm, 14 s"
    )
    result = Alarm("overload", 1, "The motor labours", "Wet", 61.0, True, False, cause="lap_stalled")
    advice = Alarm("disk_low", 3, "Little room on disk", "Free some", 5.0, True, True)
    aside = Alarm("clock_jump", 3, "The clock was set", "Check", 5.0, True, True, shelved_until_s=700.0)
    view = view_of(shot(State.STOPPING, alarms=(cause, advice), folded=(result,), shelved=(aside,)), 80, 24)
    rows = [plain(line).strip() for line in alarm_page(view)]
    assert "3 ALARMS, FIRST CAUSE ON TOP" in rows[0]
    at = next(y for y, line in enumerate(rows) if line.startswith("■ The lap has stopped"))
    assert "not seen, 00:40" in rows[at]
    assert rows[at + 1 : at + 3] == ["▶ Wet now", "0.0 rpm, 14 s"]
    assert rows[at + 3].startswith("└ The motor labours")
    assert any(line.startswith("○ Little room") and "seen" in line for line in rows)
    assert "put aside for 10:00: The clock was set" in rows


def test_a_long_list_of_alarms_says_what_it_hides() -> None:
    """At 60x16 twelve alarms do not fit; the page says how many rows are left out and cuts none silently."""
    many = tuple(Alarm(f"a{n}", 2, f"Alarm {n}", "Do it", 5.0, True, False) for n in range(12))
    rows = [plain(line) for line in alarm_page(view_of(shot(State.POLISH, alarms=many), 60, 16))]
    assert len(rows) == 13
    assert any("more rows" in line for line in rows)


def test_why_an_act_was_refused_stands_in_full() -> None:
    """The sentence of a refusal is on the preparation, broken at words, and beside STOP elsewhere."""
    why = "The disk is full: free 50 MB where the logbook is kept, then arm again"
    view = view_of(shot(State.READY, refusal=why), 80, 24)
    assert why in words_beside(pages_of(view)["prepare"], 20)
    assert "The disk is full" in plain(screen(view, "polish", [], "")[-2])


def test_an_unfinished_segment_is_told() -> None:
    """What the last start left unfinished is said before anything else is asked."""
    told = "Segment 12 was interrupted after 07:12; look whether the glass is wet."
    page = pages_of(view_of(shot(State.READY, recovered=told), 80, 24))["prepare"]
    text = " ".join(" ".join(plain(line).split()) for line in page)
    assert "Segment 12 was interrupted" in text
