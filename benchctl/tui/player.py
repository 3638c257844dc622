"""Plays samples from standard input on the sound device, in a process of its own.

Sound libraries write on the terminal and can take a whole program with them when they fail; so the bench
never loads one. Exit status: 0 played, 3 the extra `sound` is not installed, 4 no device (why: on standard
output).
"""

from __future__ import annotations

import sys
import threading

NOT_INSTALLED, NO_DEVICE = 3, 4


def main(rate_hz: int) -> int:
    """Play 16-bit samples of one channel until they have sounded."""
    try:
        import miniaudio
    except ImportError:
        return NOT_INSTALLED
    pcm = sys.stdin.buffer.read()
    over = threading.Event()
    stream = miniaudio.stream_with_callbacks(
        miniaudio.stream_raw_pcm_memory(pcm, 1, 2), end_callback=over.set
    )
    next(stream)
    try:
        with miniaudio.PlaybackDevice(miniaudio.SampleFormat.SIGNED16, 1, rate_hz) as device:
            device.start(stream)
            over.wait(len(pcm) / 2 / rate_hz + 2.0)
            threading.Event().wait(0.3)
    except miniaudio.MiniaudioError as error:
        print(error.args[0] if error.args else error)
        return NO_DEVICE
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1])))
