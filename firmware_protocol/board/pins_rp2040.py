"""The pins of an RP2040 board; the only file that imports `machine`.

Inputs have the processor's own pull-up and close to ground: emergency stop's reporting contact and pedal
are normally closed, so an open contact or a broken wire reads as pressed. The readback closes when the
drive has power. Edges are stamped in the interrupt, into rings made beforehand; nothing is allocated there.
The rings are lists: an array of 64-bit numbers gives back objects that `ticks_diff` misreads.
"""

import select
import time

import machine

from firmware_protocol.board import port, wiring
from firmware_protocol.controller import Controller
from firmware_protocol.pins import Pins

MASK32 = 0xFFFFFFFF
RING = 32
SMALL = 0x1FFFFFFF  # and one more than it, is still an integer that needs no memory in the interrupt


class EdgeRing:
    """Stamps of one sensor from the interrupt; the newest 32 when nobody takes them."""

    def __init__(self, number: int) -> None:
        self.stamps = [time.ticks_us()] * RING
        self._head = 0
        self._tail = 0
        pin = machine.Pin(number, machine.Pin.IN, machine.Pin.PULL_UP)
        pin.irq(handler=self._stamp, trigger=machine.Pin.IRQ_RISING, hard=True)

    def _stamp(self, _pin: object) -> None:
        head = self._head
        self.stamps[head % RING] = time.ticks_us()
        self._head = (head + 1) & SMALL

    def waiting(self) -> int:
        """How many stamps there are, at most 32."""
        waiting = (self._head - self._tail) & SMALL
        if waiting > RING:
            self._tail = (self._head - RING) & SMALL
            return RING
        return waiting

    def take(self) -> int:
        """Where in `stamps` the oldest one lies; only while some are waiting."""
        oldest = self._tail % RING
        self._tail = (self._tail + 1) & SMALL
        return oldest


class RP2040Pins(Pins):
    """All pins, set to off before anything else is done."""

    def __init__(self) -> None:
        self._enable = machine.Pin(wiring.ENABLE, machine.Pin.OUT, value=0)
        self._contactor = machine.Pin(wiring.CONTACTOR, machine.Pin.OUT, value=0)
        self._buzzer = machine.Pin(wiring.BUZZER, machine.Pin.OUT, value=0)
        self._lamp = machine.Pin(wiring.LAMP, machine.Pin.OUT, value=0)
        self._speed = machine.PWM(machine.Pin(wiring.SPEED))
        self._speed.freq(wiring.SPEED_PWM_HZ)
        self._speed.duty_u16(0)
        self._estop = machine.Pin(wiring.ESTOP_CONTACT, machine.Pin.IN, machine.Pin.PULL_UP)
        self._pedal = machine.Pin(wiring.PEDAL, machine.Pin.IN, machine.Pin.PULL_UP)
        self._readback = machine.Pin(wiring.POWER_READBACK, machine.Pin.IN, machine.Pin.PULL_UP)
        self._load = machine.ADC(wiring.LOAD_ADC)
        self._rings = (EdgeRing(wiring.TABLE_SENSOR), EdgeRing(wiring.LAP_SENSOR))
        self._pulse = 0
        self._ticks = time.ticks_us()
        self._ms = 0
        self._rest_us = 0
        self._watchdog: machine.WDT | None = None

    def start_watchdog(self) -> None:
        """From now on the board restarts when it is not fed for a second. It cannot be stopped again."""
        self._watchdog = machine.WDT(timeout=wiring.WATCHDOG_MS)

    def now_ms(self) -> int:
        """Milliseconds since the start, u32, wrapping."""
        ticks = time.ticks_us()
        self._rest_us += time.ticks_diff(ticks, self._ticks)
        self._ticks = ticks
        whole = self._rest_us // 1000
        self._rest_us -= whole * 1000
        self._ms = (self._ms + whole) & MASK32
        return self._ms

    def wait_for(self, at_ms: int) -> None:
        """Idle until then; a time already past returns at once."""
        while 0 < ((at_ms - self.now_ms()) & MASK32) < 0x80000000:
            machine.idle()

    def take_edges(self, controller: Controller) -> None:
        """Hand over the stamps, turned from ticks into the clock of `now_ms`."""
        for sensor in (0, 1):
            ring = self._rings[sensor]
            for _ in range(RING):  # what comes faster is noise, and must not hold up the loop
                if not ring.waiting():
                    break
                since = time.ticks_diff(ring.stamps[ring.take()], self._ticks)
                controller.edge(sensor, (self._ms * 1000 + self._rest_us + since) & MASK32)

    def load_counts(self) -> int:
        """Mean of four readings."""
        read = self._load.read_u16
        return (read() + read() + read() + read()) // 4

    def estop_open(self) -> bool:
        """The reporting contact is open."""
        return self._estop.value() == 1

    def pedal_pressed(self) -> bool:
        """The pedal's contact is open."""
        return self._pedal.value() == 1

    def enable_readback(self) -> bool:
        """The auxiliary contact of the power relay is closed."""
        return self._readback.value() == 0

    def drive(self, speed_u16: int, enable: bool, contactor: bool) -> None:
        """Speed, one edge of the enable line, and the contactor; always in that order."""
        self._speed.duty_u16(speed_u16)
        self._pulse = 1 - self._pulse if enable else 0
        self._enable.value(self._pulse)
        self._contactor.value(1 if contactor else 0)

    def signal(self, buzzer: bool, lamp: bool) -> None:
        """Switch the buzzer and the lamp."""
        self._buzzer.value(1 if buzzer else 0)
        self._lamp.value(1 if lamp else 0)

    def feed_watchdog(self) -> None:
        """A whole control step has run."""
        if self._watchdog is not None:
            self._watchdog.feed()


def service_jumper() -> bool:
    """The jumper to ground is set: leave the board to the person at the prompt, all outputs off."""
    return machine.Pin(wiring.SERVICE_JUMPER, machine.Pin.IN, machine.Pin.PULL_UP).value() == 0


def reset_cause() -> int:
    """messages.POWER_ON, WATCHDOG or SOFT_RESET; this processor does not tell a brown-out from power on."""
    cause = machine.reset_cause()
    if cause == machine.WDT_RESET:
        return 1
    return 0 if cause == machine.PWRON_RESET else 3


def board_id() -> str:
    """The processor's unique number, 16 hexadecimal digits."""
    return "".join(["%02x" % byte for byte in machine.unique_id()])[:16]


class UartPort(port.Port):
    """The serial port for an isolated adapter, with its own buffers."""

    def __init__(self) -> None:
        tx, rx = machine.Pin(wiring.LINK_UART_TX), machine.Pin(wiring.LINK_UART_RX)
        self._uart = machine.UART(0, wiring.UART_BAUD, tx=tx, rx=rx, rxbuf=512, txbuf=512)
        self._poll = select.poll()
        self._poll.register(self._uart, select.POLLOUT)

    def read(self) -> bytes:
        """What has come, up to 256 bytes; empty when nothing has."""
        if not self._uart.any():
            return b""
        return self._uart.read(port.READ_MOST) or b""

    def write(self, data: bytes) -> int:
        """Write the beginning of `data`, at most 64 bytes; how many bytes it took."""
        if not self._poll.poll(0):
            return 0
        return self._uart.write(data[: port.CHUNK]) or 0
