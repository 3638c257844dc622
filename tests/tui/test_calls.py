"""When calls sound again, how they rise, and what is said."""

from __future__ import annotations

import shutil
import struct
import threading
from itertools import pairwise

import pytest

from benchctl.session.snapshot import Call
from benchctl.tui.calls import PATTERNS, Caller, Sounding, spoken
from benchctl.tui.sound import RATE_HZ, NoSound, Sounder, samples, speak, speaker

WATER = Call("wet_down", "WET THE WORK NOW", "Flood the open glass, then answer: wetted", 41.2)


def heard(call: Call, seconds: float) -> list[tuple[float, Sounding]]:
    """Every sounding of a call that goes on for a while, looked at ten times a second."""
    caller = Caller()
    found = []
    for tick in range(round(seconds * 10)):
        sounding = caller.see(call, tick / 10)
        if sounding is not None:
            found.append((tick / 10, sounding))
    return found


@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_call_is_repeated_and_rises(pattern: str) -> None:
    """Unanswered, a call sounds at once, then again sooner and louder, and it does not end by itself."""
    found = heard(WATER._replace(pattern=pattern), 120.0)
    times = [at_s for at_s, _ in found]
    gaps = [later - before for before, later in pairwise(times)]
    assert times[0] == 0.0
    assert [one.level for _, one in found[:4]] == [0, 1, 2, 2]
    assert gaps[0] > gaps[1] > gaps[2] > 0
    assert times[-1] > 105.0


def test_muted_or_answered_is_quiet() -> None:
    """A muted call is quiet at once; a new call after it starts anew, softly."""
    caller = Caller()
    assert caller.see(WATER, 0.0) is not None
    assert caller.see(WATER._replace(silenced=True), 50.0) is None
    assert caller.see(None, 51.0) is None
    again = caller.see(WATER, 52.0)
    assert again is not None
    assert again.level == 0


def test_a_worse_call_sounds_at_once() -> None:
    """A fault does not wait for the time of the call that it replaces."""
    caller = Caller()
    caller.see(WATER, 0.0)
    fault = caller.see(Call("fault", "The lap has stopped turning", "Wet now", None), 0.1)
    assert fault is not None
    assert fault.pattern == "fault"


def test_rhythms_differ() -> None:
    """The four kinds are told by ear: no two have the same number and length of tones."""
    rhythms = {tuple((on_s, off_s) for _, on_s, off_s in pattern.tones) for pattern in PATTERNS.values()}
    assert len(rhythms) == len(PATTERNS) == 4


def test_what_is_said() -> None:
    """First what to do, then how long there is."""
    assert spoken(WATER) == "Wet the work now. 40 seconds left."
    assert spoken(Call("fault", "The lap grabbed the glass", "Do not pull up", None)) == (
        "The lap grabbed the glass. Do not pull up."
    )


def test_speech_does_not_talk_over_itself() -> None:
    """However fast a fault repeats its tones, the words come at most every eight seconds."""
    said = [at_s for at_s, one in heard(Call("fault", "Overload", "Look", None), 60.0) if one.words]
    assert len(said) >= 4
    assert min(b - a for a, b in pairwise(said)) >= 8.0


@pytest.mark.parametrize("pattern", PATTERNS)
def test_tones_rise_and_last_as_written(pattern: str) -> None:
    """The samples last as long as the rhythm says, and are louder at each level, never beyond full scale."""
    seconds = sum(on_s + off_s for _, on_s, off_s in PATTERNS[pattern].tones)
    peaks = []
    for level in (0, 1, 2):
        pcm = samples(pattern, level)
        values = struct.unpack(f"<{len(pcm) // 2}h", pcm)
        assert len(values) / RATE_HZ == pytest.approx(seconds, abs=0.01)
        peaks.append(max(abs(value) for value in values))
    assert peaks[0] < peaks[1] < peaks[2] <= 32767


def test_the_pitch_is_the_one_written() -> None:
    """The end's tone has 660 Hz: counted by the sign changes of its samples, two a period."""
    pcm = samples("end", 2)
    values = struct.unpack(f"<{len(pcm) // 2}h", pcm)
    crossings = sum(a < 0 <= b or b < 0 <= a for a, b in pairwise(values))
    assert crossings / 2 / 1.4 == pytest.approx(660.0, rel=0.01)


def played(error: NoSound | None) -> tuple[Sounder, list[str], list[bytes]]:
    """A sounder that plays into lists, or cannot play; three soundings of it, waited for."""
    said: list[str] = []
    tones: list[bytes] = []
    spoken_thrice = threading.Event()

    def play(pcm: bytes) -> None:
        tones.append(pcm)
        if error is not None:
            raise error

    def speak(words: str) -> None:
        said.append(words)
        if len(said) == 3:
            spoken_thrice.set()

    sounder = Sounder(play, speak)
    for count in range(1, 4):
        sounder.sound(Sounding("end", 0, f"word {count}"))
        while len(said) < count and not spoken_thrice.wait(0.01):
            pass
    return sounder, said, tones


def test_tones_then_words() -> None:
    """Each sounding plays its tones and says its words, in order."""
    sounder, said, tones = played(None)
    assert said == ["word 1", "word 2", "word 3"]
    assert len(tones) == 3
    assert sounder.warning == ""


def test_no_device_is_a_warning_once() -> None:
    """Without a sound device speech goes on, the tones are tried once, and a warning says why."""
    sounder, said, tones = played(NoSound("no sound device (-401)"))
    assert len(said) == 3
    assert len(tones) == 1
    assert "no sound device" in sounder.warning


def test_without_a_speech_program_nothing_is_spoken(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first speech program found is used with its options; without any, speaking does nothing."""
    monkeypatch.setattr(shutil, "which", lambda name: f"/bin/{name}" if name == "espeak" else None)
    assert speaker() == ["/bin/espeak", "-s", "150", "--"]
    monkeypatch.setattr(shutil, "which", lambda _name: None)
    assert speaker() == []
    speak("Wet the work now.")
