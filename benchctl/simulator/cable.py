"""A cable in memory with two ends, and what can go wrong on it: noise, loss, delay, a cut.

A chunk is what one end writes at once, usually a frame or a few. Faults act on bytes (flips, losses,
insertions) and on chunks (lost, doubled, held back, out of order). Seeded; each direction has its stream.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from random import Random

from benchctl.errors import LinkLost


@dataclass(slots=True)
class CableFaults:
    """Chances from 0 to 1 and times in seconds; all nothing at first."""

    flip: float = 0.0
    """For each byte, that one of its bits is turned over."""
    drop: float = 0.0
    """For each byte, that it is lost."""
    insert: float = 0.0
    """For each byte, that a random one comes before it."""
    lose: float = 0.0
    """For each chunk, that it is lost."""
    double: float = 0.0
    """For each chunk, that it comes twice, the second time up to `late_s` later."""
    late: float = 0.0
    """For each chunk, that it is held back by up to `late_s`; what comes after it does not wait."""
    late_s: float = 0.0
    silent: bool = False
    """Nothing gets through, and neither end is told."""

    def any(self) -> bool:
        """Whether anything is wrong with the cable."""
        return bool(
            self.silent or self.flip or self.drop or self.insert or self.lose or self.double or self.late
        )


class Lane:
    """One direction of the cable: chunks and the time at which they arrive."""

    def __init__(self, faults: CableFaults, latency_s: float, random: Random) -> None:
        self._faults = faults
        self._latency_s = latency_s
        self._random = random
        self._order = 0
        self._due: list[tuple[float, int, bytes]] = []

    def put(self, data: bytes, now_s: float) -> None:
        """Send a chunk; the faults act on it here."""
        if not data:
            return
        due_s = now_s + self._latency_s
        if not self._faults.any():
            self._send(due_s, data)
            return
        faults, random = self._faults, self._random
        if faults.silent or random.random() < faults.lose:
            return
        data = self._damaged(data)
        late_s = random.uniform(0.0, faults.late_s) if random.random() < faults.late else 0.0
        self._send(due_s + late_s, data)
        if random.random() < faults.double:
            self._send(due_s + random.uniform(0.0, faults.late_s), data)

    def _send(self, due_s: float, data: bytes) -> None:
        self._order += 1
        heapq.heappush(self._due, (due_s, self._order, data))

    def _damaged(self, data: bytes) -> bytes:
        faults, random = self._faults, self._random
        if not (faults.flip or faults.drop or faults.insert):
            return data
        out = bytearray()
        for byte in data:
            if random.random() < faults.insert:
                out.append(random.randrange(256))
            if random.random() < faults.drop:
                continue
            out.append(byte ^ (1 << random.randrange(8)) if random.random() < faults.flip else byte)
        return bytes(out)

    def take(self, now_s: float) -> bytes:
        """What has arrived by now, in the order of arrival."""
        due = self._due
        if not due or due[0][0] > now_s:
            return b""
        arrived = []
        while due and due[0][0] <= now_s:
            arrived.append(heapq.heappop(due)[2])
        return b"".join(arrived)

    def clear(self) -> None:
        """What is under way is lost."""
        self._due.clear()


class Cable:
    """Both lanes. `now_s` is set by whoever moves simulated time; `host` is the computer's end."""

    def __init__(self, seed: int, latency_s: float = 0.0) -> None:
        self.faults = CableFaults()
        self.now_s = 0.0
        self.unplugged = False
        self.to_board = Lane(self.faults, latency_s, Random(f"{seed} to board"))
        self.to_host = Lane(self.faults, latency_s, Random(f"{seed} to host"))
        self.host = HostEnd(self)

    def pull_out(self) -> None:
        """The plug comes out of the computer: the board hears nothing more, the computer's end says so."""
        self.unplugged = True
        self.to_board.clear()
        self.to_host.clear()

    def board_reads(self) -> bytes:
        """Bytes for the board."""
        return self.to_board.take(self.now_s)

    def board_writes(self, data: bytes) -> None:
        """Bytes from the board."""
        if not self.unplugged:
            self.to_host.put(data, self.now_s)


class HostEnd:
    """The computer's end: a transport of three methods."""

    def __init__(self, cable: Cable) -> None:
        self._cable = cable
        self._closed = False

    def read(self) -> bytes:
        """What has arrived since the last call; LinkLost once the plug is out or the end was given back."""
        self._check()
        return self._cable.to_host.take(self._cable.now_s)

    def write(self, data: bytes) -> None:
        """Send bytes; LinkLost as for `read`."""
        self._check()
        self._cable.to_board.put(data, self._cable.now_s)

    def close(self) -> None:
        """Give the end back."""
        self._closed = True

    def _check(self) -> None:
        if self._closed:
            raise LinkLost("the cable was given back")
        if self._cable.unplugged:
            raise LinkLost("the cable is out of the computer")
