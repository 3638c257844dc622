"""Makes calls audible on the computer: tones by the optional extra `sound`, speech where it is installed.

One thread of its own has them played, each by a process of its own, so nothing here ever waits in the
screen and no sound library runs in the program that drives the table. A sounding that comes while two wait
is dropped. No device, no library, no speech program: each is a warning, never an error. The board's own
buzzer is the first alarm and needs none of this.
"""

from __future__ import annotations

import math
import queue
import shutil
import struct
import subprocess
import sys
import threading
from collections.abc import Callable

from benchctl.tui.calls import LOUDNESS, PATTERNS, Sounding
from benchctl.tui.player import NOT_INSTALLED

RATE_HZ = 22050
EDGE_S = 0.008
"""Each tone is faded in and out over this time, so that it does not click."""
SPEAKERS = (("espeak-ng", "-s", "150", "--"), ("espeak", "-s", "150", "--"), ("spd-say", "--wait"), ("say",))
"""Speech programs, the first that is installed is used: their words before what is said."""
SPEECH_LIMIT_S = 12.0
PLAY_LIMIT_S = 10.0


def samples(pattern: str, level: int) -> bytes:
    """A call's tones as signed 16-bit samples, one channel, `RATE_HZ` a second, little-endian."""
    found: list[int] = []
    for hertz, on_s, off_s in PATTERNS[pattern].tones:
        count = round(on_s * RATE_HZ)
        for i in range(count):
            edge = min(1.0, i / (EDGE_S * RATE_HZ), (count - 1 - i) / (EDGE_S * RATE_HZ))
            wave = math.sin(2.0 * math.pi * hertz * i / RATE_HZ)
            found.append(round(32767 * LOUDNESS[level] * edge * wave))
        found += [0] * round(off_s * RATE_HZ)
    return struct.pack(f"<{len(found)}h", *found)


class NoSound(Exception):
    """Why nothing can be heard, in a few words."""


def play_samples(pcm: bytes) -> None:
    """Play samples by a process of its own and wait until they have sounded. NoSound where they cannot be."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "benchctl.tui.player", str(RATE_HZ)],
            input=pcm, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=PLAY_LIMIT_S, check=False,
        )  # fmt: skip
    except (OSError, subprocess.SubprocessError) as error:
        raise NoSound(str(error)) from error
    if done.returncode == NOT_INSTALLED:
        raise NoSound("pip install 'benchctl[sound]'")
    if done.returncode != 0:
        why = done.stdout.decode(errors="replace").strip() or f"status {done.returncode}"
        raise NoSound(f"no sound device ({why})")


def speak(words: str) -> None:
    """Say words by the speech program, where there is one; waits until they are said."""
    program = speaker()
    if program:
        subprocess.run([*program, words], capture_output=True, timeout=SPEECH_LIMIT_S, check=False)


def speaker() -> list[str]:
    """The speech program with its options; empty where none is installed."""
    for name, *options in SPEAKERS:
        path = shutil.which(name)
        if path is not None:
            return [path, *options]
    return []


class Sounder:
    """Plays soundings in a thread of its own. `warning` says what cannot be heard, once it is known."""

    def __init__(
        self, tones: Callable[[bytes], None] = play_samples, voice: Callable[[str], None] = speak
    ) -> None:
        self._tones = tones
        self._voice = voice
        self._waiting: queue.Queue[Sounding] = queue.Queue(maxsize=2)
        self._pcm: dict[tuple[str, int], bytes] = {}
        self._mute = False
        self.warning = ""
        threading.Thread(target=self._run, name="sound", daemon=True).start()

    def sound(self, sounding: Sounding) -> None:
        """Sound it as soon as what sounds now is over; dropped where two wait already."""
        try:
            self._waiting.put_nowait(sounding)
        except queue.Full:
            return

    def _run(self) -> None:
        while True:
            one = self._waiting.get()
            self._play(one)
            if one.words:
                try:
                    self._voice(one.words)
                except (OSError, subprocess.SubprocessError) as error:
                    self.warning = f"no speech: {error}"

    def _play(self, one: Sounding) -> None:
        if self._mute:
            return
        key = (one.pattern, one.level)
        try:
            self._pcm.setdefault(key, samples(*key))
            self._tones(self._pcm[key])
        except NoSound as error:
            self._mute = True
            self.warning = f"no sound here: {error}"


def try_sounds(say: Callable[[str], None]) -> bool:
    """Play every call once and tell what was tried; False where a tone could not be played."""
    heard = True
    for pattern in PATTERNS:
        name = pattern.replace("_", "-")
        try:
            play_samples(samples(pattern, 2))
            say(f"{name}: played; did you hear it?")
        except NoSound as error:
            say(f"{name}: not played: {error}")
            heard = False
    program = speaker()
    say(f"speech: {program[0] if program else 'no speech program is installed; calls are not spoken'}")
    speak("Wet the work now. Thirty seconds left.")
    return heard
