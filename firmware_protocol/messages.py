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

DISARMED, ARMED, RUNNING, SLOWING, TRIPPED = range(5)
STATE_NAMES = ("disarmed", "armed", "running", "slowing", "tripped")

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
CALL_NAMES = ("none", "wet_down", "end", "fault")

# Boot.reset_cause and Identity.reset_cause
POWER_ON, WATCHDOG, BROWN_OUT, SOFT_RESET = range(4)
RESET_CAUSE_NAMES = ("power_on", "watchdog", "brown_out", "soft_reset")

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

TO_BOARD = "to board"
FROM_BOARD = "from board"

HELLO, ARM, RUN, SET_SPEED, SET_END, STOP, RENEW, RESET = range(1, 9)
CALL, PING, READ_SETTINGS, WRITE_SETTING = range(9, 13)
BOOT, IDENTITY, STATUS, EDGES, REPLY, STOPPING, SETTINGS = range(64, 71)

# (number, name, direction, namedtuple, ((field, struct code, unit or meaning), ...))
# "16s" is text of printable ASCII, padded with zeros; "*I" is 0 to 16 further u32, always last.
TABLE = (
    (
        HELLO,
        "Hello",
        TO_BOARD,
        Hello,
        (
            ("magic", "I", "always 48434E42 hex"),
            ("token", "I", "owner token, drawn at random by the host; not 0, not 18181818 hex"),
            ("major", "B", "protocol version"),
            ("minor", "B", "protocol version"),
            ("schema", "I", "schema hash"),
        ),
    ),
    (
        ARM,
        "Arm",
        TO_BOARD,
        Arm,
        (
            ("token", "I", "owner token"),
            ("ceiling_mrpm", "I", "0.001 rpm; may only lower the stored ceiling"),
            ("load_limit_permille", "H", "0.1 %; may only lower the stored limit"),
            ("lap_expected", "B", "1: a lap turns under its own sensor"),
        ),
    ),
    (
        RUN,
        "Run",
        TO_BOARD,
        Run,
        (
            ("token", "I", "owner token"),
            ("board_ms", "I", "t_ms of the newest status the host has; older than the lease is refused"),
            ("target_mrpm", "I", "0.001 rpm"),
            ("call_after_ms", "I", "ms from the start; the board calls for water by itself"),
            ("end_after_ms", "I", "ms from the start; planned end of the segment"),
            ("standing_ms", "I", "ms after the end at which the board stops by itself, at most 180000"),
        ),
    ),
    (
        SET_SPEED,
        "SetSpeed",
        TO_BOARD,
        SetSpeed,
        (("token", "I", "owner token"), ("target_mrpm", "I", "0.001 rpm, absolute")),
    ),
    (
        SET_END,
        "SetEnd",
        TO_BOARD,
        SetEnd,
        (
            ("token", "I", "owner token"),
            ("call_after_ms", "I", "ms from the start, absolute"),
            ("end_after_ms", "I", "ms from the start, absolute"),
            ("standing_ms", "I", "ms after the end, at most 180000"),
        ),
    ),
    (
        STOP,
        "Stop",
        TO_BOARD,
        Stop,
        (
            ("stop_kind", "B", "1 planned, 2 controlled_then_off, 3 power_off"),
            ("reason", "H", "stop reason"),
        ),
    ),
    (
        RENEW,
        "Renew",
        TO_BOARD,
        Renew,
        (("token", "I", "owner token"), ("board_ms", "I", "t_ms of the newest status the host has")),
    ),
    (
        RESET,
        "Reset",
        TO_BOARD,
        Reset,
        (("token", "I", "owner token"), ("fault", "H", "the latched stop reason")),
    ),
    (
        CALL,
        "Call",
        TO_BOARD,
        Call,
        (("token", "I", "owner token"), ("call", "B", "0 none, 1 wet_down, 2 end, 3 fault")),
    ),
    (PING, "Ping", TO_BOARD, Ping, (("echo", "I", "comes back as the reply's detail"),)),
    (
        READ_SETTINGS,
        "ReadSettings",
        TO_BOARD,
        ReadSettings,
        (("echo", "I", "any number"),),
    ),
    (
        WRITE_SETTING,
        "WriteSetting",
        TO_BOARD,
        WriteSetting,
        (
            ("token", "I", "owner token"),
            ("setting", "B", "setting id"),
            ("old_value", "I", "the value it has now"),
            ("new_value", "I", "the value it shall have"),
        ),
    ),
    (
        BOOT,
        "Boot",
        FROM_BOARD,
        Boot,
        (
            ("magic", "I", "always 48434E42 hex"),
            ("boot_counter", "I", "starts of this board"),
            ("reset_cause", "B", "0 power_on, 1 watchdog, 2 brown_out, 3 soft_reset"),
        ),
    ),
    (
        IDENTITY,
        "Identity",
        FROM_BOARD,
        Identity,
        (
            ("magic", "I", "always 48434E42 hex"),
            ("major", "B", "protocol version"),
            ("minor", "B", "protocol version"),
            ("schema", "I", "schema hash"),
            ("boot_counter", "I", "starts of this board"),
            ("reset_cause", "B", "as in Boot"),
            ("state", "B", "0 disarmed, 1 armed, 2 running, 3 slowing, 4 tripped"),
            ("latched_fault", "H", "stop reason, 0 none"),
            ("ceiling_mrpm", "I", "0.001 rpm, as stored"),
            ("lease_ms", "H", "ms the run permit lives"),
            ("firmware_id", "16s", "text"),
            ("board_id", "16s", "text"),
        ),
    ),
    (
        STATUS,
        "Status",
        FROM_BOARD,
        Status,
        (
            ("state", "B", "0 disarmed, 1 armed, 2 running, 3 slowing, 4 tripped"),
            ("flags", "H", "see the list of flags"),
            ("reason", "H", "first cause of the last stop, 0 while none"),
            ("stop_kind", "B", "kind of that stop, 0 while none"),
            ("set_mrpm", "I", "0.001 rpm asked of the drive now"),
            ("target_mrpm", "I", "0.001 rpm the ramp is heading for"),
            ("table_mrpm", "I", "0.001 rpm from the table's edges"),
            ("load_permille", "H", "0.1 % of the motor's full load"),
            ("table_edges", "I", "edges accepted since the board started"),
            ("lap_edges", "I", "edges accepted since the board started"),
            ("bad_edges", "H", "table edges refused since the board started, wraps"),
            ("permit_left_ms", "H", "ms the run permit still lives"),
            ("run_ms", "I", "ms since the start of this or the last run"),
            ("pedal_presses", "H", "short presses since the board started, wraps"),
            ("call", "B", "0 none, 1 wet_down, 2 end, 3 fault"),
            ("dropped_frames", "H", "damaged frames since the board started, wraps"),
        ),
    ),
    (
        EDGES,
        "Edges",
        FROM_BOARD,
        Edges,
        (
            ("sensor", "B", "0 table, 1 lap"),
            ("first_number", "I", "running number of the first stamp; a gap means a lost batch"),
            ("stamps_us", "*I", "us of the board's clock, wraps at 2^32"),
        ),
    ),
    (
        REPLY,
        "Reply",
        FROM_BOARD,
        Reply,
        (
            ("to_kind", "B", "number of the message answered"),
            ("to_epoch", "H", "its epoch"),
            ("to_seq", "H", "its seq"),
            ("refusal", "H", "0 done, else why it was refused"),
            ("state", "B", "state after it"),
            ("detail", "I", "the limit concerned, the echo, or the new epoch after Arm"),
        ),
    ),
    (
        STOPPING,
        "Stopping",
        FROM_BOARD,
        Stopping,
        (
            ("reason", "H", "stop reason"),
            ("stop_kind", "B", "kind of stop"),
            ("latched", "B", "1: a reset will be asked for"),
            ("at_ms", "I", "ms of the board's clock at the decision"),
            ("set_mrpm", "I", "0.001 rpm at the decision"),
            ("table_mrpm", "I", "0.001 rpm at the decision"),
            ("load_permille", "H", "0.1 % at the decision"),
        ),
    ),
    (
        SETTINGS,
        "Settings",
        FROM_BOARD,
        Settings,
        tuple([(row[1], "I", "%s, %d to %d" % (row[5], row[3], row[4])) for row in SETTING_TABLE]),
    ),
)
