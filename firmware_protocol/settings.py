"""The settings kept on the board: one table of ids, names, defaults and limits; their stored form with CRC.

The host reads them and never assumes them. A job may lower the ceiling and the load limit for one
segment; only `WriteSetting` (disarmed, at rest, old value quoted) changes what is stored.
"""

import binascii
import struct
from collections import namedtuple

Settings = namedtuple(
    "Settings",
    (
        "table_edges_per_turn",
        "lap_edges_per_turn",
        "ceiling_mrpm",
        "ramp_up_mrad_s2",
        "planned_stop_mrad_s2",
        "fault_stop_mrad_s2",
        "t_ss1_ms",
        "load_limit_permille",
        "load_zero_counts",
        "load_span_counts",
        "full_scale_mrpm",
        "pedal_fitted",
        "lap_sensor_fitted",
        "readback_fitted",
        "debounce_us",
        "service_lock",
    ),
)

# (id, name, default, least, most); the unit is at the end of the name, and in protocol_words
SETTING_TABLE = (
    (1, "table_edges_per_turn", 24, 1, 255),
    (2, "lap_edges_per_turn", 12, 1, 255),
    (3, "ceiling_mrpm", 45000, 1000, 60000),
    (4, "ramp_up_mrad_s2", 500, 50, 2000),
    (5, "planned_stop_mrad_s2", 1000, 200, 4000),
    (6, "fault_stop_mrad_s2", 2000, 500, 8000),
    (7, "t_ss1_ms", 4000, 500, 10000),
    (8, "load_limit_permille", 850, 50, 2000),
    (9, "load_zero_counts", 0, 0, 65534),
    (10, "load_span_counts", 65535, 1, 65535),
    (11, "full_scale_mrpm", 60000, 1000, 120000),
    (12, "pedal_fitted", 1, 0, 1),
    (13, "lap_sensor_fitted", 1, 0, 1),
    (14, "readback_fitted", 1, 0, 1),
    (15, "debounce_us", 2000, 50, 20000),
    (16, "service_lock", 0, 0, 1),
)

DEFAULTS = Settings(*[row[2] for row in SETTING_TABLE])

_FORMAT = "<H%dI" % len(SETTING_TABLE)
_LAYOUT = 1


def with_value(settings: Settings, setting_id: int, value: int) -> Settings:
    """A copy with one setting changed. ValueError outside its limits; KeyError for an unknown id."""
    row = row_of(setting_id)
    if not row[3] <= value <= row[4]:
        raise ValueError("%s must be %d to %d, not %d" % (row[1], row[3], row[4], value))
    values = list(settings)
    values[setting_id - 1] = value
    return Settings(*values)


def row_of(setting_id: int) -> tuple[int, str, int, int, int]:
    """The table's row for an id. KeyError for an unknown id."""
    if not 1 <= setting_id <= len(SETTING_TABLE):
        raise KeyError(setting_id)
    return SETTING_TABLE[setting_id - 1]


def value_of(settings: Settings, setting_id: int) -> int:
    """The present value for an id. KeyError for an unknown id."""
    row_of(setting_id)
    value: int = settings[setting_id - 1]
    return value


def safe_defaults() -> Settings:
    """What the board uses when nothing sound is stored: a low ceiling, and locked until commissioned."""
    return with_value(with_value(DEFAULTS, 3, 10000), 16, 1)


def store(settings: Settings) -> bytes:
    """The stored form: layout number, every value as u32, CRC-32; all little-endian."""
    body = struct.pack(_FORMAT, _LAYOUT, *settings)
    return body + (binascii.crc32(body) & 0xFFFFFFFF).to_bytes(4, "little")


def load(stored: bytes) -> Settings | None:
    """Settings from their stored form, or None where they are damaged or out of their limits."""
    if len(stored) != struct.calcsize(_FORMAT) + 4:
        return None
    body = stored[:-4]
    if binascii.crc32(body) & 0xFFFFFFFF != int.from_bytes(stored[-4:], "little"):
        return None
    values = struct.unpack(_FORMAT, body)
    if values[0] != _LAYOUT:
        return None
    for row, value in zip(SETTING_TABLE, values[1:]):  # noqa: B905
        if not row[3] <= value <= row[4]:
            return None
    return Settings(*values[1:])
