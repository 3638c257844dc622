"""What a set of pins must offer to the main loop. `board/pins_rp2040.py` and the tests' pins fill it in."""


class Pins:
    """Base of all pin sets: every method is one the main loop calls. Nothing here moves anything."""

    def now_ms(self) -> int:
        """The board's milliseconds, u32, wrapping."""
        raise NotImplementedError

    def take_edges(self, controller: object) -> None:
        """Hand every edge stamped since the last call to `controller.edge(sensor, stamp_us)`."""
        raise NotImplementedError

    def load_counts(self) -> int:
        """Raw ADC reading of the motor's load signal, 0 to 65535."""
        raise NotImplementedError

    def estop_open(self) -> bool:
        """True when the emergency stop's reporting contact is open (pressed, or its wire broken)."""
        raise NotImplementedError

    def pedal_pressed(self) -> bool:
        """True when the normally closed pedal is open (pressed, or its wire broken)."""
        raise NotImplementedError

    def enable_readback(self) -> bool:
        """True when the drive really has power."""
        raise NotImplementedError

    def drive(self, speed_permille: int, enable: bool, contactor: bool) -> None:
        """Set the speed output; make one pulse edge on the enable line if `enable`."""
        raise NotImplementedError

    def signal(self, call: int, lamp: int, now_ms: int) -> None:
        """Work the buzzer and the lamp for the two patterns."""
        raise NotImplementedError

    def feed_watchdog(self) -> None:
        """Tell the hardware watchdog that a whole control step has run."""
        raise NotImplementedError
