"""How much faster than life the simulated bench runs. By hand: python -m tests.benchmarks.simulator_speed

Sixteen simulated minutes of plant, real controller and cable, with a host that does no more than renew;
then the plant alone. Processor time of one core, best of three; the ratio to life is what is promised.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from benchctl.models.job import demo_job
from benchctl.simulator.bench import Bench
from firmware_protocol import codec, frames, messages
from tests.simulator.raw_host import TOKEN, RawHost, demo_face, make_bench

SEGMENT_S = 960.0
WARM_S = 3.0


def whole_s() -> float:
    """Processor seconds for the whole bench: the host renews unseen, knowing the board's clock."""
    bench = make_bench(seed=5)
    host = RawHost(bench)
    host.start(6.0)
    host.until(WARM_S)
    epoch = codec.header_of(frames_of(bytes(host.bytes_read))[-1]).epoch
    start = time.process_time()
    number = 1000
    while bench.now_s < SEGMENT_S:
        number += 1
        order: tuple[object, ...] = messages.Renew(TOKEN, round(bench.now_s * 1000) - 50)
        if number == 1200:
            order = messages.SetSpeed(TOKEN, 26000)
        bench.transport.write(frames.encode(codec.encode(order, epoch, number, 0)))
        bench.advance(bench.now_s + 0.15)
        bench.transport.read()
    used = time.process_time() - start
    assert bench.board.state == "running"
    assert bench.plant.table_rpm > 25.0
    return used


def frames_of(data: bytes) -> list[bytes]:
    """The payloads in some bytes."""
    return list(frames.FrameReader().feed(data))


def plant_s() -> float:
    """Processor seconds for the plant alone, at 26 rpm."""
    bench = Bench(demo_job(), 5, face=demo_face())
    bench.powered, bench.command_rpm = True, 26.0
    start = time.process_time()
    for _ in range(round(SEGMENT_S / 0.01)):
        bench.advance(0.01)
    return time.process_time() - start


def best(of: Callable[[], float]) -> float:
    """The least of three."""
    return min(of() for _ in range(3))


def main() -> None:
    """Print the times and ratios."""
    demo_face()
    for name, used in (("plant, board and cable", best(whole_s)), ("plant alone", best(plant_s))):
        print(f"{name:24} {used:6.2f} s for 16 min: {SEGMENT_S / used:7.0f} times life")


if __name__ == "__main__":
    main()
