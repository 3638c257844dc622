"""The only loop on the board: bytes and edges in, one control step every 10 ms, pins and bytes out.

On the board this file is `main.py`, started by itself. It never prints, since its output is the cable.
An error of ours takes the power off and trips; one that keeps coming back is left to the watchdog, which
is fed at the end of a whole step and nowhere else. With the service jumper set it does nothing at all.
"""

import gc

import micropython

from firmware_protocol import signals
from firmware_protocol.board import flash, pins_rp2040, port, wiring
from firmware_protocol.controller import STEP_MS, Controller
from firmware_protocol.frames import FrameReader, RawStop, encode
from firmware_protocol.pins import Pins, load_permille

FIRMWARE_ID = "benchctl 0.1"
MASK32 = 0xFFFFFFFF
ERRORS_MOST = 10
COLLECT_EVERY = 100


class Board:
    """One board: controller, pins and port, moved on by `turn`."""

    def __init__(self, controller: Controller, pins: Pins, cable: port.Port) -> None:
        self.controller = controller
        self.errors = 0
        self._pins = pins
        self._cable = cable
        self._reader = FrameReader()
        self._raw_stop = RawStop()
        self._unsent = b""
        self._turns = 0

    def turn(self) -> None:
        """One whole control step. The watchdog is fed only when nothing in it went wrong."""
        try:
            now_ms = self._pins.now_ms()
            self._listen(now_ms)
            self._control(now_ms)
            self._speak()
            self.errors = 0
            self._pins.feed_watchdog()
        except Exception:  # noqa: BLE001 - whatever it is, the power goes off
            self.errors += 1
            self._fall()

    def _fall(self) -> None:
        self._pins.drive(0, False, self.controller.contactor)
        self.controller.fail(self._pins.now_ms())
        if self.errors < ERRORS_MOST:
            self._pins.feed_watchdog()

    def _listen(self, now_ms: int) -> None:
        data = self._cable.read()
        if not data:
            return
        if self._raw_stop.feed(data):
            self.controller.raw_stop(now_ms)
        for payload in self._reader.feed(data):
            self.controller.receive(payload, now_ms)
        self.controller.dropped_frames = self._reader.dropped

    def _control(self, now_ms: int) -> None:
        controller, pins = self.controller, self._pins
        pins.take_edges(controller)
        settings = controller.settings
        controller.inputs(
            load_permille(pins.load_counts(), settings.load_zero_counts, settings.load_span_counts),
            pins.estop_open(),
            pins.pedal_pressed(),
            pins.enable_readback(),
        )
        controller.step(now_ms)
        duty = controller.speed_out_mrpm * 65535 // settings.full_scale_mrpm
        pins.drive(min(duty, 65535), controller.enable, controller.contactor)
        pins.signal(signals.is_on(controller.call, now_ms), signals.is_on(controller.lamp, now_ms))
        if controller.settings_changed and not controller.enable:
            controller.settings_changed = False
            flash.store_settings(controller.settings)

    def _speak(self) -> None:
        """Hand the cable what it takes; only when all of it is gone is more asked for."""
        if not self._unsent:
            payloads = self.controller.take_payloads()
            if payloads:
                self._unsent = b"".join([encode(payload) for payload in payloads])
        if self._unsent:
            self._unsent = self._unsent[self._cable.write(self._unsent) :]
        self._turns += 1
        if self._turns % COLLECT_EVERY == 0:
            gc.collect()


def main() -> None:
    """Start the board and turn for ever."""
    pins = pins_rp2040.RP2040Pins()
    if pins_rp2040.service_jumper():
        return
    micropython.kbd_intr(-1)
    cable = pins_rp2040.UartPort() if wiring.LINK == "uart" else port.StdioPort()
    controller = Controller(
        flash.load_settings(),
        pins_rp2040.board_id(),
        FIRMWARE_ID,
        flash.count_start(),
        pins_rp2040.reset_cause(),
    )
    board = Board(controller, pins, cable)
    pins.start_watchdog()
    at_ms = pins.now_ms()
    while True:
        board.turn()
        at_ms = (at_ms + STEP_MS) & MASK32
        if (pins.now_ms() - at_ms) & MASK32 < 0x80000000:
            at_ms = pins.now_ms()
        pins.wait_for(at_ms)


if __name__ == "__main__":
    main()
