"""The foot pedal, normally closed: a short press answers a call, a held press stops; it never starts."""

SETTLE_MS = 30
HELD_MS = 800
STUCK_MS = 10000


class Pedal:
    """Debounced in steps. `pressed` is the settled state; `pressed_ms` how long it has been so."""

    def __init__(self) -> None:
        self.pressed = False
        self.pressed_ms = 0
        self.presses = 0
        self._changing_ms = 0

    def step(self, contact_open: bool, dt_ms: int) -> bool:
        """Take the contact; True once at the end of a short press."""
        if self.pressed:
            self.pressed_ms += dt_ms
        if contact_open == self.pressed:
            self._changing_ms = 0
            return False
        self._changing_ms += dt_ms
        if self._changing_ms < SETTLE_MS:
            return False
        self._changing_ms = 0
        self.pressed = contact_open
        if contact_open:
            self.pressed_ms = 0
            return False
        short = self.pressed_ms < HELD_MS
        if short:
            self.presses = (self.presses + 1) & 0xFFFF
        return short

    def held(self) -> bool:
        """Pressed long enough to mean stop."""
        return self.pressed and self.pressed_ms >= HELD_MS

    def stuck(self) -> bool:
        """Pressed for so long that it is stuck, or its wire is broken."""
        return self.pressed and self.pressed_ms >= STUCK_MS
