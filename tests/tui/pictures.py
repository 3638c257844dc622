"""Makes the pictures of every screen in docs/pictures: `python -m tests.tui.pictures [FOLDER]`.

The screen writes an SVG of itself; a real browser (chromium) draws it, since simpler renderers misplace
its text. Run it after a change of the screen, so that the pictures never age.
"""

from __future__ import annotations

import asyncio
import atexit
import io
import re
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from rich.console import Console
from rich.terminal_theme import TerminalTheme

from benchctl.assembly.job_so_far import reckoning_of, so_far
from benchctl.cli.places import logbook_lines
from benchctl.logbook.interrupted import WHAT_TO_DO
from benchctl.logbook.reader import read
from benchctl.models.job import demo_job
from benchctl.planner.plan import make_plan
from benchctl.planner.plan_text import plan_lines
from benchctl.planner.reckon_text import reckoned_lines
from benchctl.planner.reckoned import reckoned
from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.session.snapshot import Snapshot
from benchctl.simulator.mishaps import MISHAPS
from benchctl.tui.bench_app import PAGE_THREAD, BenchApp
from benchctl.tui.places import Places
from benchctl.units import LENGTH, show
from tests.logbook.books import write_story
from tests.tui.seen import text_of
from tests.tui.shots import PIECES, SHIFT, Player, caution, pressing, shot, stopped, with_alarms
from tests.tui.test_look import BEFORE, WHOLE, as_keys

ROOT = Path(__file__).parent.parent.parent
FOLDER = ROOT / "docs" / "pictures"
TEXTS = "screens.txt"
"""Every picture as text: for who cannot see pictures, and for the test that they have not aged."""
PLACES = Places(
    plan=lambda units: plan_page(units),
    logbook=lambda _units: story(),
    pieces=PIECES,
    differences=lambda units: [f"post at {show(0.128, LENGTH, units)}, was {show(0.131, LENGTH, units)}"],
    mishaps=tuple((mishap.name, mishap.line) for mishap in MISHAPS),
    save_look=lambda look: "Kept in the logbook.",
    last_look=lambda: BEFORE,
)
PITS = (*("7", "enter") * 6, "m", "3", "8", "enter", "4", "1", "enter", "enter", "1", "2")
BLEMISH = ("1", "enter", "1", "3", "0", "enter", "9", "5")
CUT_OFF = (
    "A segment at mark 7 had run 12.3 min when the program ended without warning at 14:03; what it did is "
    f"kept, and the pass of marks goes on. {WHAT_TO_DO}"
)


@cache
def story_folder() -> Path:
    """The logbook of eighteen segments and the looks at the glass between them."""
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    write_story(folder, 18, synced=False)
    return folder


def story() -> list[str]:
    """The page of this logbook, without the line that names its folder."""
    return logbook_lines(story_folder())[:-2]


def plan_page(units: str) -> list[str]:
    """What is left of the job of this logbook, and the plan of its set-up."""
    job, book = demo_job(), read(story_folder())
    found = so_far(book, job)
    told = reckoned(reckoning_of(job, found, [book]), found.pass_ends_in)
    return [*reckoned_lines(told), "", *plan_lines(make_plan(job), system=units)]


Size = tuple[int, int]
SMALL, USUAL, LARGE = (60, 16), (80, 24), (200, 60)

PICTURES: tuple[tuple[str, Snapshot, tuple[str, ...], Size, bool], ...] = (
    ("screen-mark", shot(State.READY), (), USUAL, True),
    ("screen-prepare", shot(State.READY), ("y", "y", "y"), USUAL, True),
    ("screen-other-mark", shot(State.READY, allowed=frozenset({Act.MARK})), ("o", *"9 chip"), USUAL, True),
    ("screen-press", shot(State.READY, press=pressing(), call=SHIFT), (), USUAL, True),
    ("screen-armed", shot(State.ARMED), (), USUAL, True),
    ("screen-creep", shot(State.CREEP), (), USUAL, True),
    ("screen-true", shot(State.OFFERED), (), USUAL, True),
    ("polish-80x24", shot(State.POLISH), (), USUAL, True),
    ("screen-light", shot(State.POLISH), ("d", "d"), USUAL, True),
    ("screen-dark", shot(State.POLISH), ("d",), USUAL, False),
    ("screen-small", shot(State.POLISH), (), SMALL, True),
    ("screen-large", shot(State.POLISH), (), LARGE, True),
    ("screen-caution", caution("lap_jerky", "Lap jerks", "Wet it or slow down"), (), USUAL, True),
    ("screen-water", shot(State.WET_DOWN), (), USUAL, True),
    ("screen-water-small", shot(State.WET_DOWN), (), SMALL, True),
    ("screen-waiting", shot(State.WAITING), (), USUAL, True),
    ("screen-fault", stopped("lap_stalled"), (), USUAL, True),
    ("screen-alarms", with_alarms(), ("0",), USUAL, True),
    ("screen-standing", shot(State.STANDING), (), USUAL, True),
    ("screen-look", shot(State.LOOK), ("9", "enter", "8", "enter", "7"), USUAL, True),
    ("screen-look-pits", shot(State.LOOK), PITS, USUAL, True),
    ("screen-look-blemish", shot(State.LOOK), ("9", "enter", *["tab"] * 5, *BLEMISH), USUAL, True),
    ("screen-look-keep", shot(State.LOOK), tuple(as_keys(WHOLE)), USUAL, True),
    ("screen-done", shot(State.LOOK), tuple(as_keys([*WHOLE, "."])), USUAL, True),
    ("screen-interrupted", shot(State.READY, recovered=CUT_OFF), (), USUAL, True),
    ("screen-plan", shot(State.READY), ("4",), USUAL, True),
    ("screen-logbook", shot(State.POLISH), ("5",), USUAL, True),
    ("screen-keys", shot(State.POLISH), ("?",), USUAL, True),
    ("screen-note", shot(State.POLISH), ("t", *"dull"), USUAL, True),
    ("screen-mishaps", shot(State.POLISH), ("j",), USUAL, True),
)
"""Name, moment, keys pressed, size, and whether the terminal is dark."""

Colour = tuple[int, int, int]
_DARK: tuple[Colour, ...] = (
    (0, 0, 0), (178, 24, 24), (24, 178, 24), (214, 170, 0),
    (24, 60, 190), (160, 40, 160), (24, 150, 160), (200, 200, 200),
)  # fmt: skip
_LIGHT: tuple[Colour, ...] = (
    (0, 0, 0), (178, 24, 24), (0, 120, 0), (230, 190, 40),
    (24, 60, 190), (150, 30, 150), (0, 120, 130), (180, 180, 180),
)  # fmt: skip
_BRIGHT = [(110, 110, 110), *[(230, 230, 230)] * 6, (255, 255, 255)]
DARK = TerminalTheme((24, 24, 24), (222, 222, 222), [*_DARK], _BRIGHT)
LIGHT = TerminalTheme((252, 252, 248), (30, 30, 30), [*_LIGHT], _BRIGHT)
"""The sixteen colours of a dark and of a light terminal; a terminal's own may differ."""

PAGE = """<svg class="rich-terminal" viewBox="0 0 {terminal_width} {terminal_height}"
 xmlns="http://www.w3.org/2000/svg"><style>
.{unique_id}-matrix {{ font-family: 'DejaVu Sans Mono', monospace; font-size: {char_height}px;
 line-height: {line_height}px; font-variant-east-asian: full-width; }}
{styles}</style><defs>{lines}</defs>
<rect width="{terminal_width}" height="{terminal_height}" fill="GROUND"/>
<g class="{unique_id}-matrix">{backgrounds}{matrix}</g></svg>"""


async def drawn(snapshot: Snapshot, keys: Iterable[str], size: Size, dark: bool) -> tuple[str, list[str]]:
    """The screen after `keys`: as SVG, without a window round it or a font from elsewhere, and as text."""
    app = BenchApp(Player([snapshot]), PLACES)
    async with app.run_test(size=size) as pilot:
        await pilot.pause(0.15)
        for key in keys:
            await pilot.press(key)
        for thread in [one for one in threading.enumerate() if one.name == PAGE_THREAD]:
            await asyncio.to_thread(thread.join)
        app.tick()
        await pilot.pause(0.05)
        console = Console(
            width=size[0], height=size[1], file=io.StringIO(), force_terminal=True,
            color_system="truecolor", record=True, legacy_windows=False,
        )  # fmt: skip
        console.print(app.screen._compositor.render_update(full=True))
        text = text_of(app)
    theme = DARK if dark else LIGHT
    page = PAGE.replace("GROUND", theme.background_color.hex)
    return console.export_svg(theme=theme, code_format=page, title=""), text


def png_of(picture: str, size: Size, path: Path) -> None:
    """Draw an SVG by the browser."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        raise SystemExit("pictures need chromium; install it, or keep the SVG files")
    found = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', picture)
    width, height = (int(float(found[1])) + 1, int(float(found[2])) + 1) if found else (1000, 700)
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "page.html"
        page.write_text(
            f"<style>body {{ margin: 0 }} svg {{ display: block }}</style>{picture}",
            encoding="utf-8",
        )
        subprocess.run(
            [browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
             f"--window-size={width},{height}", f"--screenshot={path}", page.as_uri()],
            check=True, capture_output=True, timeout=120,
        )  # fmt: skip


def as_text(name: str, rows: Iterable[str]) -> str:
    """One picture as text, under its name."""
    return "\n".join([f"== {name}", *(line.rstrip() for line in rows), ""])


def main(arguments: list[str]) -> None:
    """Make all pictures in FOLDER, and their text in screens.txt beside them."""
    folder = Path(arguments[0]) if arguments else FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    texts = []
    for name, snapshot, keys, size, dark in PICTURES:
        picture, rows = asyncio.run(drawn(snapshot, keys, size, dark))
        texts.append(as_text(name, rows))
        png_of(picture, size, folder / f"{name}.png")
        print(folder / f"{name}.png")
    (folder / TEXTS).write_text("\n".join(texts), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
