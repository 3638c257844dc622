"""What outlives a restart: the settings and the number of starts, each in a file with its own CRC."""

import binascii
import os

from firmware_protocol import settings

SETTINGS_FILE = "settings.bin"
STARTS_FILE = "starts.bin"


def load_settings() -> settings.Settings | None:
    """The stored settings, or None where there are none or they are damaged."""
    return settings.load(_read(SETTINGS_FILE))


def store_settings(values: settings.Settings) -> None:
    """Write beside, then rename: a power cut leaves the old file or the new one."""
    _write(SETTINGS_FILE, settings.store(values))


def count_start() -> int:
    """Number of this start. A damaged count begins again at 1."""
    stored = _read(STARTS_FILE)
    starts = 0
    if len(stored) == 8 and binascii.crc32(stored[:4]) & 0xFFFFFFFF == int.from_bytes(stored[4:], "little"):
        starts = int.from_bytes(stored[:4], "little")
    starts = (starts + 1) & 0xFFFFFFFF or 1
    number = starts.to_bytes(4, "little")
    _write(STARTS_FILE, number + (binascii.crc32(number) & 0xFFFFFFFF).to_bytes(4, "little"))
    return starts


def _read(name: str) -> bytes:
    try:
        with open(name, "rb") as file:
            return file.read()
    except OSError:
        return b""


def _write(name: str, data: bytes) -> None:
    beside = name + ".new"
    with open(beside, "wb") as file:
        file.write(data)
    os.rename(beside, name)
