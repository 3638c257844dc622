"""Programs that are killed, stopped or hung up at drawn instants while they drive a bench over a port.

One bench in a process of its own outlives several programs. It keeps its far end of the pseudo-terminal
open, so that the board finds a death by silence, as behind a real serial port.
"""

from __future__ import annotations

import math
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import NamedTuple

from benchctl.logbook.reader import Logbook, read
from benchctl.logbook.segments import SEGMENT_CLOSED
from tests.stories.live_stage import Stage, wait_for

PERMIT_S, RAMP_RAD_S2, MARGIN_S = 0.6, 2.0, 0.2
LIVE_S = 0.25
"""Beside the promise: the truth has a line every 50 ms, and on a busy machine processes wait."""
ASKED_S = 1.0
"""The same where the program is asked to end: on a busy machine it must first get the processor."""
STOPPED_S = 3.0
ARMED_WITHIN_S = 40.0
STILL_S = 1.0
MOVES_RPM = 0.05
LIVES_A_BENCH = 5
RAD_S = 2.0 * math.pi / 60.0


class Death(NamedTuple):
    """A signal, and how long after the board was armed it comes, or after the program's own start."""

    signal: int
    after_s: float
    from_start: bool

    @property
    def name(self) -> str:
        return signal.Signals(self.signal).name


class Rested(NamedTuple):
    """A death while the table turned: which, from what speed, and how long until rest."""

    death: str
    rpm: float
    rest_s: float


@dataclass
class Told:
    """What one bench came to."""

    seed: int
    deaths: int = 0
    rested: list[Rested] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def draw(seed: int, lives: int) -> list[Death]:
    """The deaths of one bench's programs."""
    random = Random(f"{seed} deaths")
    signals = (signal.SIGKILL,) * 5 + (signal.SIGSTOP,) * 3 + (signal.SIGTERM, signal.SIGHUP)
    spans = ((0.3, 3.0), (0.0, 2.0), (1.0, 4.0), (1.0, 6.0), (4.0, 20.0))
    chosen = [random.randrange(len(spans)) for _ in range(lives)]
    return [Death(random.choice(signals), random.uniform(*spans[i]), i == 0) for i in chosen]


class Life(NamedTuple):
    """When a program began and died, in the bench's time (s)."""

    began_s: float
    died_s: float
    death: Death


class Watched:
    """One bench with a program after the other on it."""

    def __init__(self, seed: int, folder: Path) -> None:
        self.told = Told(seed)
        self.stage = Stage(folder, seconds=36_000.0)
        self.lives: list[Life] = []

    def live(self, death: Death) -> None:
        """Start a program, let it drive, let it die, and see the table to its rest."""
        stage, told = self.stage, self.told
        began_s = self._bench_s()
        host = stage.host()
        try:
            self._drive(host, death)
            if host.poll() == 1:
                self._tell(f"the program failed by itself: {host.communicate()[1].splitlines()[-1:]}")
                return
            host.send_signal(death.signal)
            self.lives.append(Life(began_s, self._bench_s(), death))
            told.deaths += 1
            self._pass(PERMIT_S + MARGIN_S)  # what was asked before the death may begin until the permit ends
            wait_for(lambda: stage.rpm() < MOVES_RPM, 30.0, "rest")
            self._pass(STILL_S)
            if death.signal == signal.SIGSTOP:
                self._pass(STOPPED_S)
                host.send_signal(signal.SIGCONT)
                self._pass(STILL_S)
                host.terminate()
        finally:
            if death.signal == signal.SIGKILL or told.wrong:
                host.kill()
            if host.poll() is None:
                host.communicate(timeout=150)

    def _bench_s(self) -> float:
        """The bench's own time, as its truth has it: on a busy machine it runs behind the computer's."""
        return float(str(self.stage.last()["at_s"]))

    def _pass(self, seconds: float) -> None:
        """Let so much of the bench's time pass."""
        until_s = self._bench_s() + seconds
        wait_for(lambda: self._bench_s() >= until_s, 30.0 + seconds, "the bench's time")

    def _drive(self, host: subprocess.Popen[str], death: Death) -> None:
        """Let it drive until its time has come; a board that is tripped is acknowledged and reset first."""
        latest_s = time.monotonic() + ARMED_WITHIN_S
        while not death.from_start and time.monotonic() < latest_s and host.poll() is None:
            state = self.stage.last()["board_state"]
            if state in ("armed", "running"):
                break
            if state == "tripped" and host.stdin is not None:
                host.stdin.write("acknowledge\nreset\n")
                host.stdin.flush()
                time.sleep(0.5)
            time.sleep(0.05)
        time.sleep(death.after_s)

    def audit(self) -> None:
        """The whole truth, and the logbook once a last program has closed what was left open."""
        moving = [
            (float(str(line["at_s"])), float(str(line["table_rpm"])))
            for line in self.stage.truth()
            if float(str(line["table_rpm"])) >= MOVES_RPM
        ]
        turned = 0
        ends_s = [life.began_s for life in self.lives[1:]] + [math.inf]
        for life, end_s in zip(self.lives, ends_s, strict=True):
            turned += any(life.began_s <= at_s <= life.died_s and rpm > 1.0 for at_s, rpm in moving)
            self._rested(life, [line for line in moving if life.died_s <= line[0] <= end_s])
        self.stage.look()
        book = read(self.stage.folder / "log")
        for what in audit_logbook(book):
            self._tell(what)
        starts = sum(1 for _ in book.of_kind("segment_start"))
        if starts < turned:
            self._tell(f"the table was started {turned} times, the logbook tells of {starts}")

    def _rested(self, life: Life, moving: list[tuple[float, float]]) -> None:
        """Judge the rest after one death; `moving` is the truth from it to the next program's start."""
        if not moving:
            return
        fastest = max(rpm for _, rpm in moving)
        rest_s = moving[-1][0] - life.died_s
        limit_s = PERMIT_S + fastest * RAD_S / RAMP_RAD_S2 + MARGIN_S
        self.told.rested.append(Rested(life.death.name, fastest, rest_s))
        asked = life.death.signal in (signal.SIGTERM, signal.SIGHUP)
        if rest_s > limit_s + (ASKED_S if asked else LIVE_S):
            self._tell(
                f"{life.death.name} at {life.died_s:.2f} s: moves until {rest_s:.2f} s after it, "
                f"at most {fastest:.1f} rpm, limit {limit_s:.2f} s"
            )

    def _tell(self, what: str) -> None:
        self.told.wrong.append(f"bench {self.told.seed}: {what}")


def audit_logbook(book: Logbook) -> list[str]:
    """What a logbook must not show after kills: broken rows, lines that were changed, segments left open."""
    wrong = [f"line {one.line}: {one.reason}" for one in book.breaks]
    wrong += [f"line {one.line}: {one.reason}" for one in book.damaged if one.reason != "cut short"]
    ended = {str(entry.fields.get("segment")) for entry in book.of_kind(*SEGMENT_CLOSED)}
    open_ones = [entry.id for entry in book.of_kind("segment_start") if entry.id not in ended]
    return wrong + [f"segment {name} was never closed" for name in open_ones]


def play_bench(seed: int, lives: int) -> Told:
    """One bench and its programs, in a folder of its own."""
    with tempfile.TemporaryDirectory() as name:
        watched = Watched(seed, Path(name))
        try:
            for death in draw(seed, lives):
                watched.live(death)
            watched.audit()
        except (AssertionError, OSError, subprocess.SubprocessError) as error:
            watched.told.wrong.append(f"bench {seed}: {type(error).__name__}: {error}")
        finally:
            watched.stage.close()
        return watched.told


def play_deaths(count: int, at_once: int, first_seed: int = 0) -> Iterator[Told]:
    """`count` deaths on benches of their own, `at_once` benches at a time."""
    benches = math.ceil(count / LIVES_A_BENCH)
    lives = [len(range(i, count, benches)) for i in range(benches)]
    with ThreadPoolExecutor(at_once) as pool:
        yield from pool.map(lambda i: play_bench(first_seed + i, lives[i]), range(benches))
