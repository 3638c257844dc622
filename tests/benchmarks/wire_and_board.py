"""How fast the wire and the board's step are, in processor time: python -m tests.benchmarks.wire_and_board"""

from __future__ import annotations

import os
import subprocess
import time

from cobs import cobs

from firmware_protocol import codec, frames, messages
from tests.firmware_protocol.portable.bench import Bench
from tests.firmware_protocol.unix_board import ROOT, micropython

STEPS = """
import time
from tests.firmware_protocol.portable.bench import Bench
b = Bench()
b.start(26000, 3)
c = b.controller
for i in range(20000):
    b.now_ms += 10
    b.move(True)
    c.inputs(400, False, False, True)
    t = time.ticks_us()
    c.step(b.now_ms)
    out = c.take_payloads()
    print(time.ticks_diff(time.ticks_us(), t))
    for p in out:
        b.hear(p)
    b.edge_frames.clear()
    if i % 15 == 0:
        from firmware_protocol import messages
        b.say(messages.Renew(0xC0FFEE, b.status_at))
"""
RUNS = 3


def frames_per_second() -> tuple[float, float]:
    """Status frames there and back, a second; and our stuffing against the `cobs` package."""
    status = messages.Status(2, 2153, 0, 0, 26000, 26000, 25990, 412, 10007, 9003, 2, 590, 965000, 1, 0, 0)
    reader = frames.FrameReader()
    rounds = 50_000
    began = time.process_time()
    for seq in range(rounds):
        for payload in reader.feed(frames.encode(codec.encode(status, 7, seq & 0xFFFF, seq))):
            codec.decode(payload)
    whole = rounds / (time.process_time() - began)
    data = codec.encode(status, 7, 1, 1)
    began = time.process_time()
    for _ in range(rounds):
        frames.cobs_decode(frames.cobs_encode(data))
    ours = time.process_time() - began
    began = time.process_time()
    for _ in range(rounds):
        cobs.decode(cobs.encode(data))
    return whole, ours / (time.process_time() - began)


def payloads_per_second() -> float:
    """Frame encode and decode alone, without messages."""
    payload = bytes(range(40))
    reader = frames.FrameReader()
    began = time.process_time()
    for _ in range(100_000):
        reader.feed(frames.encode(payload))
    return 100_000 / (time.process_time() - began)


def step_us() -> float:
    """Mean of a control step with its edges and payloads, running at 26 rpm."""
    bench = Bench()
    bench.start(26000, 3)
    c = bench.controller
    spent = 0.0
    for i in range(20_000):
        bench.now_ms += 10
        bench.move(True)
        began = time.process_time()
        c.inputs(400, False, False, True)
        c.step(bench.now_ms)
        out = c.take_payloads()
        spent += time.process_time() - began
        for payload in out:
            bench.hear(payload)
        if i % 15 == 0:
            bench.say(messages.Renew(0xC0FFEE, bench.status_at))
    return spent / 20_000 * 1e6


def unix_steps_us(program: str) -> list[int]:
    """Each of 20,000 steps under MicroPython: the least of three runs, which all take the very same steps.

    What the system took from one run is left out so; what the interpreter takes for its memory is not.
    """
    env = {**os.environ, "MICROPYPATH": str(ROOT)}
    runs = []
    for _ in range(RUNS):
        out = subprocess.run([program, "-c", STEPS], capture_output=True, text=True, check=True, env=env)
        runs.append([int(line) for line in out.stdout.split()])
    return [min(step) for step in zip(*runs, strict=True)]


if __name__ == "__main__":
    print(f"load of the machine before: {' '.join(f'{one:.1f}' for one in os.getloadavg())}")
    whole, ratio = frames_per_second()
    print(f"frame encode + decode: {payloads_per_second():,.0f} frames/s")
    print(f"message + frame, there and back: {whole:,.0f} status frames/s")
    print(f"our COBS takes {ratio:.1f} x the time of the cobs package (compiled)")
    print(f"control step with payloads, CPython: {step_us():.1f} us")
    if program := micropython():
        steps = unix_steps_us(program)
        print(
            f"control step with payloads, MicroPython Unix port: mean {sum(steps) / len(steps):.0f} us, "
            f"longest {max(steps)} us, {sum(step > 1000 for step in steps)} of {len(steps):,} over 1 ms"
        )
