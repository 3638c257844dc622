"""The screen as it runs: keys in, words out, resized while it turns, and STOP when anything in it breaks."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import pytest
from textual.pilot import Pilot

from benchctl.models.preferences import Preferences, Theme
from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.session.snapshot import Snapshot
from benchctl.tui import bench_app
from benchctl.tui.bench_app import BenchApp
from benchctl.tui.places import Places
from tests.tui.seen import stands_in_blocks, text_of
from tests.tui.shots import Player, shot

Script = Callable[[BenchApp, Player, Pilot[int]], Awaitable[None]]


def play(
    script: Script, *shots: Snapshot, size: tuple[int, int] = (80, 24), places: Places | None = None
) -> None:
    """Run the screen on a player and do `script` on it."""

    async def run() -> None:
        player = Player(shots)
        app = BenchApp(player, places)
        async with app.run_test(size=size) as pilot:
            await pilot.pause(0.15)
            await script(app, player, pilot)

    asyncio.run(run())


@pytest.mark.parametrize("size", [(80, 24), (60, 16)], ids=str)
def test_a_segment_by_keys(size: tuple[int, int]) -> None:
    """The whole segment is driven by single keys, and each moment stands there in words."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        steps: list[tuple[State, list[str], Act | None, str]] = [
            (State.READY, ["a"], Act.ARM, "Prepare"),
            (State.ARMED, ["r"], Act.RUN, "armed"),
            (State.CREEP, [], None, "next: speeding up"),
            (State.POLISH, ["w"], Act.WETTED, "left of the segment"),
            (State.POLISH, ["minus"], Act.SLOWER, "09:13"),
            (State.WET_DOWN, ["w"], Act.WETTED, "to wet the"),
            (State.RUNNING_IN, [], None, "00:34"),
            (State.SLOW_DOWN, [], None, "TABLE TURNS"),
            (State.STANDING, ["l"], Act.LIFTED, "on the glass"),
            (State.LOOK, ["7", "enter", "e", "enter"], Act.LOOKED, "Grey"),
            (State.CLOSED, ["n"], Act.NEXT, "completed"),
        ]
        for state, keys, act, words in steps:
            player.show(shot(state))
            await pilot.pause(0.75 if state is State.ARMED else 0.25)
            text = "\n".join(text_of(app))
            assert words in text, f"{state}: {text}"
            assert "SIMULATED x16" in text
            assert "SPACE = STOP" in text
            player.done.clear()
            for key in keys:
                await pilot.press(key)
            await pilot.pause(0.05)
            assert player.acts == ([] if act is None else [act]), state

    play(script, shot(State.READY), size=size, places=Places(save_look=lambda look: "Kept."))


def test_stop_is_out_before_the_next_tick() -> None:
    """A key is an act at once; it does not wait for the next look at the bench."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        answers = player.answers
        await pilot.press("space")
        assert player.acts == [Act.STOP]
        assert player.answers - answers <= 1

    play(script, shot(State.POLISH))


def test_the_face_answers() -> None:
    """The screen tells the bench that it is alive about ten times a second."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        before = player.answers
        await pilot.pause(1.0)
        assert 7 <= player.answers - before <= 12

    play(script, shot(State.POLISH))


def test_resized_while_the_table_turns() -> None:
    """Made small, large, tiny and usual again while turning: the rest stays true to the size."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        for width, height in ((60, 16), (140, 50), (12, 4), (80, 24)):
            await pilot.resize_terminal(width, height)
            await pilot.pause(0.2)
            rows = text_of(app)
            assert len(rows) == height
            assert all(len(line) == width for line in rows)
        assert stands_in_blocks("POLISHING", rows)
        assert any("motor load" in line for line in rows)

    play(script, shot(State.POLISH))


def test_the_program_s_own_keys_are_gone() -> None:
    """No palette, no focus, no copy key: what is not ours does nothing at all."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        for key in ("ctrl+p", "tab", "shift+tab", "ctrl+c", "f1"):
            await pilot.press(key)
        assert len(app.screen_stack) == 1
        assert player.acts == [Act.STOP], "ctrl+c quits, and stops the table first"

    play(script, shot(State.POLISH))


def test_a_paste_starts_nothing() -> None:
    """Pasted text reaches nothing."""
    from textual.events import Paste

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        app.post_message(Paste("a r w space"))
        await pilot.pause(0.1)
        assert player.acts == []

    play(script, shot(State.ARMED))


def test_markup_from_outside_is_inert() -> None:
    """Names and notes in brackets are shown as they are."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        assert "[bold]X[/bold]" in "\n".join(text_of(app))

    play(script, shot(State.READY, mirror="[bold]X[/bold]"))


def test_without_colour_calls_are_reversed(monkeypatch: pytest.MonkeyPatch) -> None:
    """With NO_COLOR set no colour is asked for, and a call still stands out, reversed."""
    monkeypatch.setenv("NO_COLOR", "1")

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        styles = [s.style for strip in app.screen._compositor.render_strips() for s in strip if s.style]
        assert not [style for style in styles if style.color and not style.color.is_default]
        assert not [style for style in styles if style.bgcolor and not style.bgcolor.is_default]
        assert sum(bool(style.reverse) for style in styles) > 8

    play(script, shot(State.WET_DOWN))


@pytest.mark.parametrize(
    ("theme", "ground"), [("terminal", set()), ("dark", {"black"}), ("light", {"bright_white"})]
)
def test_sixteen_colours_are_enough(theme: Theme, ground: set[str]) -> None:
    """Only the terminal's own sixteen colours are asked for; a theme lays one of them under every row."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        styles = [s.style for strip in app.screen._compositor.render_strips() for s in strip if s.style]
        colours = [c for style in styles for c in (style.color, style.bgcolor) if c and not c.is_default]
        assert colours
        assert all(colour.number is not None and colour.number < 16 for colour in colours)
        last = {s.style.bgcolor for s in app.screen._compositor.render_strips()[-1] if s.style}
        assert {colour.name for colour in last if colour and not colour.is_default} == ground

    play(script, shot(State.WET_DOWN), places=Places(preferences=Preferences(theme=theme)))


def test_the_theme_changes_at_its_key() -> None:
    """D lays another ground under the whole screen at once, and another one at the next press."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        seen = []
        for _ in range(4):
            strips = app.screen._compositor.render_strips()
            seen.append(
                {s.style.bgcolor.name for line in strips for s in line if s.style and s.style.bgcolor}
            )
            await pilot.press("d")
            await pilot.pause(0.05)
        assert "black" in seen[1]
        assert "bright_white" in seen[2]
        assert seen[0] == seen[3]

    play(script, shot(State.POLISH))


def test_only_what_changed_is_drawn_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """While nothing changes nothing is sent to the terminal; a second on the clock sends a few rows."""

    async def script(app: BenchApp, player: Player, pilot: Pilot[int]) -> None:
        await pilot.pause(0.3)
        drawn: list[Any] = []
        monkeypatch.setattr(app.sheet, "refresh", lambda *regions, **more: drawn.extend(regions))
        await pilot.pause(0.4)
        assert drawn == []
        player.show(shot(State.POLISH, left_s=611.4))
        await pilot.pause(0.3)
        assert 1 <= len({region.y for region in drawn}) <= 5

    play(script, shot(State.POLISH))


def test_an_exception_in_a_page_stops_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    """A defect anywhere in the screen sends STOP before anything else, and ends it."""
    player = Player([shot(State.POLISH)])
    app = BenchApp(player)

    def broken(*_: object) -> list[Any]:
        raise RuntimeError("planted")

    async def run() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause(0.2)
            assert player.acts == []
            monkeypatch.setattr(bench_app, "polish", broken)
            await pilot.pause(0.3)

    with pytest.raises(RuntimeError, match="planted"):
        asyncio.run(run())
    assert player.acts[0] is Act.STOP
    assert isinstance(app.failure, RuntimeError)


def test_a_crash_of_the_bench_loop_ends_the_screen() -> None:
    """If the bench loop has died the screen does not go on showing its last picture."""
    player = Player([shot(State.POLISH)])
    app = BenchApp(player)

    async def run() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            player.crash = OSError("the loop died")
            await pilot.pause(0.4)

    with pytest.raises(OSError, match="the loop died"):
        asyncio.run(run())
    assert player.acts[0] is Act.STOP
