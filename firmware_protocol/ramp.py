"""How fast the table may change speed. Whole milli-rpm and milliseconds."""

LONGEST_STEP_MS = 50


def mrpm_per_s(mrad_s2: int) -> int:
    """0.001 rad/s2 -> 0.001 rpm per second: 60 / (2 pi) = 9.549."""
    return mrad_s2 * 9549 // 1000


class Ramp:
    """The speed asked of the drive, walking towards a target at one rate up and another down.

    A step that comes late moves on by 50 ms at most, so a hung loop never makes a jump.
    """

    def __init__(self) -> None:
        self.now_mrpm = 0
        self.target_mrpm = 0
        self._up = 0
        self._down = 0
        self._rest = 0

    def head_for(self, target_mrpm: int, up_mrad_s2: int, down_mrad_s2: int) -> None:
        """Set the target and both rates; the speed itself does not move."""
        self.target_mrpm = target_mrpm
        self._up = mrpm_per_s(up_mrad_s2)
        self._down = mrpm_per_s(down_mrad_s2)
        self._rest = 0

    def off(self) -> None:
        """Ask for no speed at once."""
        self.now_mrpm = 0
        self.target_mrpm = 0
        self._rest = 0

    def step(self, dt_ms: int) -> None:
        """Walk on by `dt_ms`."""
        now = self.now_mrpm
        target = self.target_mrpm
        if now == target:
            return
        if dt_ms > LONGEST_STEP_MS:
            dt_ms = LONGEST_STEP_MS
        change = (self._up if target > now else self._down) * dt_ms + self._rest
        whole = change // 1000
        self._rest = change - whole * 1000
        if target > now:
            self.now_mrpm = target if now + whole >= target else now + whole
        else:
            self.now_mrpm = target if now - whole <= target else now - whole
