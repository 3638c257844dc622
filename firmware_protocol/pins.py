"""What a set of pins must offer to the main loop. `board/pins_rp2040.py` fills it in for the real board."""

from firmware_protocol.controller import Controller


class Pins:
    """Base of all pin sets: every method is one the main loop calls. Nothing here moves anything."""

    def now_ms(self) -> int:
        """The board's milliseconds, u32, wrapping."""
        raise NotImplementedError

    def wait_for(self, at_ms: int) -> None:
        """Idle until `now_ms` has reached `at_ms`."""
        raise NotImplementedError

    def take_edges(self, controller: Controller) -> None:
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

    def drive(self, speed_u16: int, enable: bool, contactor: bool) -> None:
        """Set the speed output (65535: full scale); make one edge on the enable line if `enable`."""
        raise NotImplementedError

    def signal(self, buzzer: bool, lamp: bool) -> None:
        """Switch the buzzer and the lamp."""
        raise NotImplementedError

    def feed_watchdog(self) -> None:
        """Tell the hardware watchdog that a whole control step has run."""
        raise NotImplementedError


def load_permille(counts: int, zero_counts: int, span_counts: int) -> int:
    """Load in 0.1 % from ADC counts; a scale that makes no sense reads as far too much."""
    if span_counts <= zero_counts:
        return 65535
    return max(0, (counts - zero_counts) * 1000 // (span_counts - zero_counts))
