"""A real port, opened for the bench: found by path or USB id, recorded if asked for, opened again if lost."""

from __future__ import annotations

import sys

from benchctl.clock import SystemClock
from benchctl.link.transport import Transport

TURN_S = 0.0005
"""How long a busy face may keep the interpreter from the thread that owns the port (decision 0115)."""


def open_port(asked: str, record: str | None) -> tuple[Transport, str]:
    """The transport of a port, and a warning for the person (empty: none). PortUnavailable says why not.

    `asked` is a path, or a USB id such as `2e8a:0005:E6614103E7452D2F`. A port that is lost later on is
    opened again by itself, under whatever path its USB id has by then; nothing moves by that.
    """
    from benchctl.link.ports import resolve, returning_name
    from benchctl.link.recording import RecordingTransport
    from benchctl.link.reopening import ReopeningTransport
    from benchctl.link.serial_port import SerialTransport, root_warning

    sys.setswitchinterval(TURN_S)
    path = resolve(asked)
    name = returning_name(path)
    transport: Transport = ReopeningTransport(lambda: SerialTransport(resolve(name)), SystemClock())
    if record is not None:
        transport = RecordingTransport(transport, record)
    return transport, root_warning(path)
