"""Every message on the wire: its number, its direction and its layout, in one table.

Payload = header + body. Header: version u8, type u8, epoch u16, seq u16, t_ms u32. All little-endian,
all whole numbers in fixed-point units (0.001 rpm, ms, us, 0.1 %), so NaN cannot exist on the wire.
Both ends, the schema hash and the page on the wire are made from TABLE.

`codec` turns these namedtuples into payloads and back.
"""

from collections import namedtuple

from firmware_protocol.settings import SETTING_TABLE, Settings

VERSION = 1
MINOR = 0
MAGIC = 0x48434E42
MASK32 = 0xFFFFFFFF
MAX_STAMPS = 16

# CRC-32 of the table as text (describe.schema_hash); a test keeps it right. Kept as a number, since making
# it on the board would cost more memory than the rest of the protocol.
SCHEMA_HASH = 0x5133F64A

DISARMED, ARMED, RUNNING, SLOWING, TRIPPED = range(5)

TABLE_SENSOR, LAP_SENSOR = range(2)

# Status.flags
ENABLED = 1
ESTOP_OPEN = 2
PEDAL_PRESSED = 4
POWER_READBACK = 8
AT_REST = 16
HAS_OWNER = 32
PERMIT_LIVE = 64
LAP_EXPECTED = 128
SETTINGS_DAMAGED = 256
NOISY_TABLE_SENSOR = 512
END_REACHED = 1024
CONTACTOR_ON = 2048

# Status.call and Call.call: what the board's buzzer and lamp say
CALL_NONE, CALL_WET_DOWN, CALL_END, CALL_FAULT = range(4)

# Boot.reset_cause and Identity.reset_cause
POWER_ON, WATCHDOG, BROWN_OUT, SOFT_RESET = range(4)

Header = namedtuple("Header", ("version", "kind", "epoch", "seq", "t_ms"))

# To the board
Hello = namedtuple("Hello", ("magic", "token", "major", "minor", "schema"))
Arm = namedtuple("Arm", ("token", "ceiling_mrpm", "load_limit_permille", "lap_expected"))
Run = namedtuple("Run", ("token", "board_ms", "target_mrpm", "call_after_ms", "end_after_ms", "standing_ms"))
SetSpeed = namedtuple("SetSpeed", ("token", "target_mrpm"))
SetEnd = namedtuple("SetEnd", ("token", "call_after_ms", "end_after_ms", "standing_ms"))
Stop = namedtuple("Stop", ("stop_kind", "reason"))
Renew = namedtuple("Renew", ("token", "board_ms"))
Reset = namedtuple("Reset", ("token", "fault"))
Call = namedtuple("Call", ("token", "call"))
Ping = namedtuple("Ping", ("echo",))
ReadSettings = namedtuple("ReadSettings", ("echo",))
WriteSetting = namedtuple("WriteSetting", ("token", "setting", "old_value", "new_value"))

# From the board
Boot = namedtuple("Boot", ("magic", "boot_counter", "reset_cause"))
Identity = namedtuple(
    "Identity",
    (
        "magic",
        "major",
        "minor",
        "schema",
        "boot_counter",
        "reset_cause",
        "state",
        "latched_fault",
        "ceiling_mrpm",
        "lease_ms",
        "firmware_id",
        "board_id",
    ),
)
Status = namedtuple(
    "Status",
    (
        "state",
        "flags",
        "reason",
        "stop_kind",
        "set_mrpm",
        "target_mrpm",
        "table_mrpm",
        "load_permille",
        "table_edges",
        "lap_edges",
        "bad_edges",
        "permit_left_ms",
        "run_ms",
        "pedal_presses",
        "call",
        "dropped_frames",
    ),
)
Edges = namedtuple("Edges", ("sensor", "first_number", "stamps_us"))
Reply = namedtuple("Reply", ("to_kind", "to_epoch", "to_seq", "refusal", "state", "detail"))
Stopping = namedtuple(
    "Stopping", ("reason", "stop_kind", "latched", "at_ms", "set_mrpm", "table_mrpm", "load_permille")
)

FIRST_FROM_BOARD = 64
HELLO, ARM, RUN, SET_SPEED, SET_END, STOP, RENEW, RESET = range(1, 9)
CALL, PING, READ_SETTINGS, WRITE_SETTING = range(9, 13)
BOOT, IDENTITY, STATUS, EDGES, REPLY, STOPPING, SETTINGS = range(64, 71)

# (number, namedtuple, codes of its fields in order); numbers under 64 go to the board, others come from it.
# B, H, I: u8, u16, u32. S: text of 16 bytes, printable ASCII padded with zeros. *: 0 to 16 u32, always last.
TABLE = (
    (HELLO, Hello, "IIBBI"),
    (ARM, Arm, "IIHB"),
    (RUN, Run, "IIIIII"),
    (SET_SPEED, SetSpeed, "II"),
    (SET_END, SetEnd, "IIII"),
    (STOP, Stop, "BH"),
    (RENEW, Renew, "II"),
    (RESET, Reset, "IH"),
    (CALL, Call, "IB"),
    (PING, Ping, "I"),
    (READ_SETTINGS, ReadSettings, "I"),
    (WRITE_SETTING, WriteSetting, "IBII"),
    (BOOT, Boot, "IIB"),
    (IDENTITY, Identity, "IBBIIBBHIHSS"),
    (STATUS, Status, "BHHBIIIHIIHHIHBH"),
    (EDGES, Edges, "BI*"),
    (REPLY, Reply, "BHHHBI"),
    (STOPPING, Stopping, "HBBIIIH"),
    (SETTINGS, Settings, "I" * len(SETTING_TABLE)),
)
