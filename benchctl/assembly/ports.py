"""A real port, opened for the bench, recorded where that is asked for."""

from __future__ import annotations

from benchctl.link.transport import Transport


def open_port(path: str, record: str | None) -> tuple[Transport, str]:
    """The transport of a port, and a warning for the person (empty: none). PortUnavailable says why not."""
    from benchctl.link.recording import RecordingTransport
    from benchctl.link.serial_port import SerialTransport, root_warning

    transport: Transport = SerialTransport(path)
    if record is not None:
        transport = RecordingTransport(transport, record)
    return transport, root_warning(path)
