"""What every transport keeps to, whatever the cable is made of."""

from __future__ import annotations

import contextlib
import os
import time
import tty
from collections.abc import Callable, Iterator

import pytest

from benchctl.clock import SteppedClock
from benchctl.errors import LinkLost
from benchctl.link.recorded_steps import RecordedSteps
from benchctl.link.recording import Chunk, RecordingTransport, ReplayTransport
from benchctl.link.reopening import ReopeningTransport
from benchctl.link.serial_port import SerialTransport
from benchctl.link.transport import Transport
from benchctl.simulator.cable import Cable

GONE_WITHIN_S = 2.0


class Far:
    """The far end of a transport under test: what it was sent, and how it goes away."""

    def __init__(self, near: Transport, sent: Callable[[], bytes]) -> None:
        self.near = near
        self.sent = sent


Stage = Callable[..., Far]
"""`stage(words, gone=False)`: a transport whose far end has said `words` and then, if `gone`, went away."""


@contextlib.contextmanager
def over_a_pseudo_terminal() -> Iterator[Stage]:
    """The real serial port's code, on a pseudo-terminal."""
    ends: list[int] = []

    def stage(words: list[bytes], gone: bool = False) -> Far:
        far, near = os.openpty()
        ends.extend((far, near))
        tty.setraw(near)
        os.set_blocking(far, False)
        transport = SerialTransport(os.ttyname(near))
        for word in words:
            os.write(far, word)
        if gone:
            time.sleep(0.05)
            transport.read()
            os.close(near)
            os.close(far)
            ends.clear()
        return Far(transport, lambda: drained(far))

    yield stage
    for end in ends:
        os.close(end)


def drained(descriptor: int) -> bytes:
    """All that waits there now."""
    data = b""
    with contextlib.suppress(BlockingIOError):
        while chunk := os.read(descriptor, 65536):
            data += chunk
    return data


@contextlib.contextmanager
def in_memory() -> Iterator[Stage]:
    """The simulated bench's cable."""

    def stage(words: list[bytes], gone: bool = False) -> Far:
        cable = Cable(seed=1)
        for word in words:
            cable.board_writes(word)
        if gone:
            cable.pull_out()
        return Far(cable.host, cable.board_reads)

    yield stage


def replayed(words: list[bytes], gone: bool = False) -> tuple[ReplayTransport, Callable[[], bytes]]:
    """A recording in which the words came."""
    chunks = [Chunk(0.0, "in", word) for word in words]
    if gone:
        chunks = [Chunk(0.0, "lost", b"", "the plug was pulled")]
    transport = ReplayTransport(chunks)
    return transport, lambda: b"".join(transport.written)


@contextlib.contextmanager
def from_a_recording() -> Iterator[Stage]:
    """A recorded capture, played."""
    yield lambda words, gone=False: Far(*replayed(words, gone))


@contextlib.contextmanager
def step_by_step() -> Iterator[Stage]:
    """A recorded segment, run again."""

    def stage(words: list[bytes], gone: bool = False) -> Far:
        transport = RecordedSteps()
        lines = [Chunk(0.0, "in", word) for word in words]
        transport.begin(0.0, [Chunk(0.0, "lost", b"", "the plug was pulled")] if gone else lines)
        return Far(transport, lambda: b"".join(transport.sent))

    yield stage


@contextlib.contextmanager
def opened_again() -> Iterator[Stage]:
    """The transport that opens a lost one again, around the in-memory cable."""
    with in_memory() as stage:

        def wrapped(words: list[bytes], gone: bool = False) -> Far:
            inner = stage(words, gone)
            return Far(ReopeningTransport(lambda: inner.near, SteppedClock()), inner.sent)

        yield wrapped


@pytest.fixture(
    params=[over_a_pseudo_terminal, in_memory, from_a_recording, step_by_step, opened_again, "recorded"]
)
def stage(request: pytest.FixtureRequest, tmp_path: object) -> Iterator[Stage]:
    """One way after the other to make a cable."""
    if request.param is over_a_pseudo_terminal and os.name == "nt":
        pytest.skip("a pseudo-terminal is needed, which Windows has not")
    if request.param != "recorded":
        with request.param() as made:
            yield made
        return
    with in_memory() as plain:

        def kept(words: list[bytes], gone: bool = False) -> Far:
            inner = plain(words, gone)
            return Far(RecordingTransport(inner.near, f"{tmp_path}/kept.jsonl", SteppedClock()), inner.sent)

        yield kept


def read_until(transport: Transport, length: int) -> bytes:
    """Read until so many bytes have come, for a second at most."""
    data, until_s = b"", time.monotonic() + 1.0
    while len(data) < length and time.monotonic() < until_s:
        data += transport.read()
    return data


def read_on(transport: Transport, seconds: float) -> None:
    """Read again and again."""
    until_s = time.monotonic() + seconds
    while time.monotonic() < until_s:
        transport.read()


class TestTransport:
    """The contract of `benchctl.link.transport.Transport`."""

    def test_nothing_there(self, stage: Stage) -> None:
        """A read with nothing there gives no bytes, and does not wait for any."""
        near = stage([]).near
        begun_s = time.monotonic()
        assert [near.read() for _ in range(20)] == [b""] * 20
        assert time.monotonic() - begun_s < 0.2
        near.close()

    def test_bytes_come_in_order(self, stage: Stage) -> None:
        """What the far end says is read whole and in order, every value of a byte among it."""
        every = bytes(range(256))
        near = stage([b"one", every, b"\x00\x11\x13\x18\x0d\x0a"]).near
        expected = b"one" + every + b"\x00\x11\x13\x18\x0d\x0a"
        assert read_until(near, len(expected)) == expected
        assert near.read() == b""
        near.close()

    def test_bytes_go_in_order(self, stage: Stage) -> None:
        """What is written arrives whole and in order, every value of a byte among it."""
        far = stage([])
        every = bytes(range(256))
        far.near.write(b"first")
        far.near.write(every)
        assert far.sent() == b"first" + every
        far.near.close()

    def test_a_far_end_that_is_gone(self, stage: Stage) -> None:
        """Once the far end has gone, a read raises LinkLost, and so does a write after it."""
        near = stage([], gone=True).near
        with pytest.raises(LinkLost):
            read_on(near, GONE_WITHIN_S)
        with pytest.raises(LinkLost):
            near.write(b"anybody there?")
        near.close()

    def test_given_back(self, stage: Stage) -> None:
        """After `close`, which may come twice, read and write raise LinkLost and nothing else."""
        near = stage([b"unread"]).near
        near.close()
        near.close()
        with pytest.raises(LinkLost):
            near.read()
        with pytest.raises(LinkLost):
            near.write(b"late")
