"""The table's speed from its own edges, on the gap between edges, with a bound while the next one is awaited.

An edge too many splits a gap in two, an edge too few doubles one; both are told from a true change of
speed by asking whether the stamps fit the gap known before. One fast gap alone is never believed.
"""

MASK32 = 0xFFFFFFFF
STALE_MS = 20000
KEPT = 8
WINDOW_US = 1000000
CONFIRM_US = 100000
CONFIRM_NOISY_US = 300000
CONFIRM_ANYWAY_US = 500000
EXPLAINED_MOST = 6
SHRINKING_MOST = 4
FASTEST_MRPM = 120000
BELIEVED_MRPM_MS = 300
BAD_WEIGHT = 19
GRACE_EDGES = 3
NOISY_AT = 100


class TableSpeed:
    """Fed with debounced edges; `since_ms` is aged by the owner.

    mean_mrpm  over the last gaps within one second (at least one, at most 7), 0 before two edges
    overspeed  set once gaps faster than the limit are confirmed: at least two that fit no known gap, last
               0.1 s together (0.3 s where the sensor is noisy) and ask for less than about 31 rad/s2;
               0.5 s in any case; or fits in a row that score 6: 2 for a gap split evenly, else 1; or four in
               a row each shorter than the one before: a stray edge in each of two equal gaps cannot do
               that, since two and two of the four pieces have the same sum; three, while a run has not
               given more than two gaps to compare with
    judging    set by the owner while the table is driven at a speed: gaps are judged for lost edges and jumps
    noise      leaky score, 0 to 200: +19 a bad edge, -1 a good one, so more than 5 % bad edges make it grow
    """

    def __init__(self, edges_per_turn: int) -> None:
        self._unit = 60000000000 // edges_per_turn
        self._least_us = self._unit // FASTEST_MRPM
        self._rest_ms = max(1000, 24000 // edges_per_turn)
        self.since_ms = 0
        self.bad = 0
        self.judging = False
        self._stamps = [0] * KEPT
        self._turns = [0] * KEPT
        self.restart()

    def restart(self) -> None:
        """Forget the gaps, not the time since the last edge: a run begins."""
        self.edges = 0
        self.mean_mrpm = 0
        self.gap_us = 0
        self.window_us = 0
        self.overspeed = False
        self.noise = 0
        self._size = 0
        self._suspects = 0
        self._explained = 0
        self._shrinking = 0
        self._dense = False
        self._grace = 0
        self._repaired = False
        self._last_us = 0
        self._newest_us = 0
        self._last_gap = 0
        self._newest_gap = 0

    def at_rest(self) -> bool:
        """No edge for 1 s, and for so long that 2.5 rpm is out of the question."""
        return self.since_ms >= self._rest_ms

    def now_mrpm(self) -> int:
        """Mean speed, lowered to what the wait for the next edge still allows; 0 at rest."""
        if self.since_ms * 700 <= self.gap_us:
            return self.mean_mrpm
        if self.since_ms >= self._rest_ms:
            return 0
        bound: int = self._unit // (self.since_ms * 1000)
        return bound if bound < self.mean_mrpm else self.mean_mrpm

    def edge(self, stamp_us: int, limit_mrpm: int, jump_mrpm_s: int) -> None:
        """One edge. `limit_mrpm` 0: no limit applies; `jump_mrpm_s`: acceleration that is not believed."""
        stale = self.since_ms >= STALE_MS
        self.since_ms = 0
        self.edges += 1
        if self._grace:
            self._grace -= 1
        if stale or self._size == 0:
            self.gap_us = 0
            self.mean_mrpm = 0
            self._begin(stamp_us)
            return
        gap = (stamp_us - self._newest_us) & MASK32
        if gap < self._least_us:
            self._dense = True
            self._spoil()
            return
        fast = limit_mrpm > 0 and gap * limit_mrpm < self._unit
        shorter = gap * 32 < self._newest_gap * 31
        self._shrinking = (self._shrinking + 1 if shorter and self._shrinking else 1) if fast else 0
        self._newest_us = stamp_us
        self._newest_gap = gap
        if self._shrinking >= (SHRINKING_MOST if self._size > 3 else 3) and self.noise * 2 < NOISY_AT:
            self._confirm(stamp_us, gap, 1)
        elif self._suspects:
            self._after_suspect(stamp_us, fast)
        elif fast:
            self._suspects = 1
        else:
            self._explained = 0
            self._ordinary(stamp_us, gap, jump_mrpm_s)

    def _begin(self, stamp_us: int) -> None:
        self._size = 0
        self._suspects = 0
        self._repaired = False
        self._push(stamp_us, 1)

    def _after_suspect(self, stamp_us: int, fast: bool) -> None:
        total = (stamp_us - self._last_us) & MASK32
        gaps = self._suspects + 1
        possible = self._unit * gaps // total <= self._believed_mrpm(total)
        turns = self._fitting(total, self._suspects)
        if turns:
            self._spoil()
            self._suspects = 0
            newest = self._newest_gap
            even = gaps == 2 and abs(total - 2 * newest) * 8 <= total
            self._explained = self._explained + (2 if even else 1) if possible else 0
            self._push(stamp_us, turns)
            if self._explained >= EXPLAINED_MOST:
                self._confirm(stamp_us, total, gaps)
        elif fast:
            self._suspects = gaps
            wait = CONFIRM_NOISY_US if self.noise * 2 >= NOISY_AT else CONFIRM_US
            if self._dense and gaps == 2:
                return  # the edge that was left out may have been the true one
            if (possible and total >= wait) or total >= CONFIRM_ANYWAY_US:
                self._confirm(stamp_us, total, gaps)
        else:
            self._spoil()
            self._begin(stamp_us)

    def _believed_mrpm(self, total_us: int) -> int:
        """The fastest a table can have become since the last trusted edge."""
        mean: int = self.mean_mrpm
        return mean + mean // 8 + total_us * BELIEVED_MRPM_MS // 1000

    def _confirm(self, stamp_us: int, total_us: int, gaps: int) -> None:
        self.overspeed = True
        self._shrinking = 0
        self._begin(stamp_us)
        self.mean_mrpm = self._unit * gaps // total_us
        self.gap_us = total_us // gaps

    def _fitting(self, total_us: int, most: int) -> int:
        """How many known gaps fit `total_us` within an eighth, at most `most`; 0 for none."""
        ref = self.gap_us
        if ref == 0:
            return 0
        turns = (total_us + ref // 2) // ref
        if 1 <= turns <= most and abs(total_us - turns * ref) * 8 <= turns * ref:
            return turns
        return 0

    def _ordinary(self, stamp_us: int, gap: int, jump_mrpm_s: int) -> None:
        if not self.judging:
            self._push(stamp_us, 1)
            return
        ref = self.gap_us
        turns = self._fitting(gap, 4) if gap * 4 > self._last_gap * 7 and not self._repaired else 1
        if turns >= 2:
            self._repaired = True
            self._spoil()
            self._push(stamp_us, turns)
            return
        if self._repaired and ref and gap * 2 > ref * 3:
            self._size = 0
            self._push(self._last_us, 1)
        self._repaired = False
        if self._last_gap and abs(gap - self._last_gap) * 6 > ref and self._jumped(gap, jump_mrpm_s):
            self._spoil()
        elif self.noise > 0:
            self.noise -= 1
        self._push(stamp_us, 1)

    def _jumped(self, gap: int, jump_mrpm_s: int) -> bool:
        last: int = self._last_gap
        change = abs(self._unit // gap - self._unit // last)
        return change * 1000 > jump_mrpm_s * ((gap + last) // 2000)

    def _spoil(self) -> None:
        """Count a bad edge; what follows within two more edges belongs to the same one."""
        if self._grace == 0:
            self._grace = GRACE_EDGES
            self.bad = (self.bad + 1) & 0xFFFF
            self.noise = min(2 * NOISY_AT, self.noise + BAD_WEIGHT)

    def bounce(self) -> None:
        """An edge was refused by the debounce."""
        if self._grace:
            self._grace -= 1
        self._spoil()

    def _push(self, stamp_us: int, turns: int) -> None:
        """Keep a trusted stamp `turns` gaps after the last one, and take the mean anew."""
        size = self._size
        stamps = self._stamps
        counts = self._turns
        if size == KEPT:
            for i in range(1, KEPT):
                stamps[i - 1] = stamps[i]
                counts[i - 1] = counts[i]
            size -= 1
        stamps[size] = stamp_us
        counts[size] = counts[size - 1] + turns if size else 0
        self._size = size + 1
        self._last_us = stamp_us
        self._newest_us = stamp_us
        self._dense = False
        if size == 0:
            return
        self._last_gap = ((stamp_us - stamps[size - 1]) & MASK32) // turns
        first = 0
        span = (stamp_us - stamps[0]) & MASK32
        while span > WINDOW_US and first < size - 1:
            first += 1
            span = (stamp_us - stamps[first]) & MASK32
        gaps = counts[size] - counts[first]
        self.window_us = span
        self.gap_us = span // gaps
        self.mean_mrpm = self._unit * gaps // max(1, span)
