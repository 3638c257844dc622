# mypy: ignore-errors
"""A small fake of MicroPython's `machine` for the Unix port: pins with a table, a lap and a relay.

The table follows the speed output while the enable line makes edges, as a charge pump would have it; with
no edge for 100 ms the drive has no power. `idle()` lets the bench move on; every pin can be forced by
lines in the file named by FAKE_BOARD_ORDERS: `pedal 1`, `estop 1`, `sensor 0`, `weld 1`, `hang 1`,
`load 900`. What the bench did goes to that file's name with `.truth`.
"""

import os
import time

PWRON_RESET = 1
WDT_RESET = 3

orders = {"pedal": 0, "estop": 0, "sensor": 1, "weld": 0, "hang": 0, "load": 400, "jumper": 0}


class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1
    IRQ_RISING = 4
    all = {}

    def __init__(self, number, mode=0, pull=None, value=None):
        self.number = number
        self.level = value or 0
        self.handler = None
        Pin.all[number] = self

    def irq(self, handler=None, trigger=0, hard=False):
        self.handler = handler

    def value(self, level=None):
        if level is not None:
            if self.number == ENABLE and level != self.level:
                bench.edge_at = time.ticks_ms()
            self.level = level
            return None
        return bench.level(self.number)


class PWM:
    duty = 0

    def __init__(self, pin):
        pass

    def freq(self, hz):
        pass

    def duty_u16(self, duty):
        PWM.duty = duty


class ADC:
    def __init__(self, number):
        pass

    def read_u16(self):
        return orders["load"] * 65535 // 1000 if bench.powered() else 0


class WDT:
    timeout = 0
    fed_at = 0

    def __init__(self, timeout):
        WDT.timeout = timeout
        WDT.fed_at = time.ticks_ms()

    def feed(self):
        WDT.fed_at = time.ticks_ms()


ENABLE, TABLE, LAP, ESTOP, PEDAL, READBACK, JUMPER = 7, 2, 3, 4, 5, 6, 22


class Bench:
    def __init__(self):
        self.edge_at = time.ticks_ms() - 1000
        self.last_us = time.ticks_us()
        self.speed = 0
        self.angle = 0
        self.lap_angle = 0
        self.orders_at = time.ticks_ms()
        self.gave = 0

    def powered(self):
        fresh = time.ticks_diff(time.ticks_ms(), self.edge_at) < 100
        return (fresh and not orders["estop"]) or bool(orders["weld"])

    def level(self, number):
        if number == ESTOP:
            return orders["estop"]
        if number == PEDAL:
            return orders["pedal"]
        if number == READBACK:
            return 0 if self.powered() else 1
        if number == JUMPER:
            return 1 - orders["jumper"]
        return 0

    def advance(self):
        now_us = time.ticks_us()
        dt = time.ticks_diff(now_us, self.last_us)
        self.last_us = now_us
        asked = PWM.duty * 60000 // 65535 if self.powered() else 0
        change = (asked - self.speed) * min(dt, 40000) // 40000 if self.powered() else -self.speed // 20
        self.speed = max(0, self.speed + change)
        self.angle = self.turn(TABLE, self.angle, self.speed * dt, 24)
        self.lap_angle = self.turn(LAP, self.lap_angle, self.speed * dt * 9 // 10, 12)

    def turn(self, number, angle, step, per_turn):
        gap = 60000000000 // per_turn
        passed = (angle + step) // gap - angle // gap
        pin = Pin.all.get(number)
        for _ in range(passed):
            if pin and pin.handler and (number != TABLE or orders["sensor"]):
                pin.handler(pin)
        return angle + step

    def read_orders(self):
        now = time.ticks_ms()
        name = os.getenv("FAKE_BOARD_ORDERS")
        if not name or time.ticks_diff(now, self.orders_at) < 20:
            return
        self.orders_at = now
        try:
            with open(name) as file:  # noqa: PTH123
                for line in file:
                    words = line.split()
                    if len(words) == 2:
                        orders[words[0]] = int(words[1])
        except OSError:
            pass
        with open(name + ".truth", "a") as file:  # noqa: PTH123
            file.write(f"{now} {self.speed} {1 if self.powered() else 0}\n")


bench = Bench()


def idle():
    bench.advance()
    bench.read_orders()
    while orders["hang"]:
        bench.advance()
        bench.read_orders()
        if WDT.timeout and time.ticks_diff(time.ticks_ms(), WDT.fed_at) > WDT.timeout:
            raise SystemExit("watchdog")
        time.sleep_ms(1)
    if WDT.timeout and time.ticks_diff(time.ticks_ms(), WDT.fed_at) > WDT.timeout:
        raise SystemExit("watchdog")
    time.sleep_us(500)


def reset_cause():
    return int(os.getenv("FAKE_RESET_CAUSE") or PWRON_RESET)


def unique_id():
    return b"\x01\x02\x03\x04\x05\x06\x07\x08"
