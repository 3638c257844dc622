"""What messages, fields, reasons, refusals and flags mean, for the page on the wire. Host only."""

INTRODUCTION = """# What goes over the wire?

Protocol version %d.%d, schema hash `%08x`. This page is made from the tables of the code:
`python -m firmware_protocol.describe > docs/wire-protocol.md`. A test fails when it is out of date.

Not a safety-rated function: neither this protocol nor the board's program replaces the emergency stop,
which is a switch in the motor's power path and works with the board and the computer dead.

## Frames

`00 | COBS(payload, CRC-32 little-endian) | 00`. The payload is 10 to 250 bytes: header and body. COBS
(Cheshire and Baker, IEEE/ACM Transactions on Networking 7(2), 1999) adds one byte and leaves no zero but the
delimiters, so that after any damage the next frame is read again. The CRC is CRC-32/ISO-HDLC, that of zlib.
A stretch that is not exactly what the encoder would write is dropped and counted, never guessed at.

| header field | size | meaning |
|---|---|---|
| `version` | u8 | protocol version; another one may only look on and stop |
| `kind` | u8 | number of the message; under 64 to the board |
| `epoch` | u16 | to the board: that of the last Arm or Identity; STOP, Hello and Ping go with any |
| `seq` | u16 | the sender's running number; wraps. An order's is 1 to 32767 ahead of the last order's |
| `t_ms` | u32 | the sender's clock in ms; wraps after 49.7 days |

All numbers are whole, little-endian, in fixed-point units (0.001 rpm, 0.1 %%, ms, us). There are no
floating-point numbers on the wire, so there is no NaN.

## Rules

1. The host asks; the board decides. It boots disarmed, and only Arm followed by Run starts the table:
   Run not sooner than 0.5 s and not later than 10 s after Arm.
2. A running table needs the run permit: 600 ms, renewed by Renew (the host sends one every 100 to 150 ms).
   Renew and Run quote the board's own time from the newest status; one that quotes a time older than
   600 ms is refused, even if it arrives whole. No renewal carries the permit further than 800 ms past
   the time it quotes.
3. Speeds are absolute. The same (epoch, seq) again gets the stored reply and has no second effect.
4. STOP is taken from anyone, in any state, with any epoch, sequence number or version. From a bare
   terminal, sixteen bytes 18 hex in a row (Ctrl-X held down) are a stop as well.
   It may name a host's reason; any other, such as one that the board finds by itself, is `host_stop`.
5. Stops for a fault trip the board. It leaves that state only by Reset with the fault's number, with
   the table at rest and the cause gone. Reset starts nothing.
6. One owner at a time, known by a token. Another host may look on and stop; it can take over when the
   owner has been silent for 2 s and the table is neither armed nor driven.
7. Status comes ten times a second and at once after a change; when the port is full the newest wins.
   Edge stamps come in batches at most 50 ms old, numbered, so that a lost batch is seen. Replies are
   never dropped for them.
8. Values out of range are refused with the limit in the reply. Nothing is clamped in silence.
"""

COSTS = """## What it costs

Measured 2026-11-25 by `python -m tests.benchmarks.wire_and_board` on one core of a computer that others were
using (load 12), in processor time: 252,000 frames a second encoded and decoded, 56,000 status messages with
their frames. A control step of the board's code with its messages took 13 us on the average and 0.26 ms at
most, of 20,000 steps at 26 rpm in MicroPython's Unix port on that computer (the least of three runs for each
step); a board is slower.
"""

STOP_KINDS = """Words of IEC 60204-1 as vocabulary only (the standard's text was not opened): `planned` is a
controlled stop at 1.0 rad/s2 with the power off at standstill, or after 1.5 times the time it
should take; `controlled_then_off` is like stop category 1: 2.0 rad/s2, power off at standstill
or after T_SS1 (4.0 s) whatever the sensor says; `power_off` is like stop category 0: the power
goes at once and the table coasts."""

SETTINGS = """Kept in flash with a CRC. Where nothing sound is stored the ceiling is 10 rpm and the board
does not arm. WriteSetting changes one, only while disarmed and at rest, with the old value
quoted."""

MESSAGES = {
    "Hello": "Greets the board and asks to be its owner. Answered by Identity and Reply (detail: the epoch).",
    "Arm": "First of the two acts that start the table; moves nothing. Begins a new epoch (reply's detail).",
    "Run": "Second act: power on and ramp to the speed. Not repeated by the host after 300 ms.",
    "SetSpeed": "A new speed while running.",
    "SetEnd": "Moves the planned end while running or armed.",
    "Stop": "Stops. Sent three times. This number and layout stay the same in every version.",
    "Renew": "Carries the run permit on. Answered only when refused.",
    "Reset": "Leaves tripped for disarmed.",
    "Call": "Sets what the buzzer and the lamp say.",
    "Ping": "Asks for a reply, to measure the clock's offset.",
    "ReadSettings": "Asks for Settings.",
    "WriteSetting": "Changes one stored setting.",
    "Boot": "Sent at the start, three times a second apart, until a host greets.",
    "Identity": "Who the board is and what it keeps to.",
    "Status": "What the board asks of the drive and what it senses.",
    "Edges": "Times at which targets passed a sensor.",
    "Reply": "Answers an order.",
    "Stopping": "Sent once when a stop begins.",
    "Settings": "Every setting as u32, in the order of the ids of the table below.",
}

FIELDS = {
    "magic": "always 48434E42 hex",
    "token": "owner token",
    "Hello.token": "owner token, drawn at random by the host; not 0, not 18181818 hex",
    "major": "protocol version",
    "minor": "protocol version, smaller changes",
    "schema": "schema hash",
    "ceiling_mrpm": "0.001 rpm; may only lower the stored ceiling",
    "Identity.ceiling_mrpm": "0.001 rpm, as stored",
    "load_limit_permille": "0.1 %; may only lower the stored limit",
    "lap_expected": "1: a lap turns under its own sensor",
    "board_ms": "`t_ms` of the newest status the host has",
    "target_mrpm": "0.001 rpm the ramp heads for",
    "call_after_ms": "ms from the start of the run at which the board itself calls for water",
    "end_after_ms": "ms from the start of the run to the planned end",
    "standing_ms": "ms after the end at which the board stops by itself; at most 180000",
    "stop_kind": "0 none, 1 planned, 2 controlled_then_off, 3 power_off",
    "reason": "number of a stop reason",
    "Status.reason": "first cause of the last stop; 0 while none",
    "fault": "number of the latched stop reason",
    "call": "0 none, 1 wet_down, 2 end, 3 fault",
    "echo": "any number; comes back as the reply's detail",
    "setting": "id of a setting",
    "old_value": "the value it has now",
    "new_value": "the value it shall have",
    "boot_counter": "starts of this board",
    "reset_cause": "0 power_on, 1 watchdog, 2 brown_out, 3 soft_reset",
    "state": "0 disarmed, 1 armed, 2 running, 3 slowing, 4 tripped",
    "latched_fault": "number of a stop reason; 0 unless tripped",
    "lease_ms": "ms that the run permit lives",
    "firmware_id": "printable ASCII, padded with zeros",
    "board_id": "printable ASCII, padded with zeros",
    "flags": "bits, see below",
    "set_mrpm": "0.001 rpm asked of the drive",
    "table_mrpm": "0.001 rpm from the table's own edges",
    "load_permille": "motor load in 0.1 %",
    "table_edges": "edges accepted since the board started",
    "lap_edges": "edges accepted since the board started",
    "bad_edges": "lost and extra edges of the table's sensor since the board started; wraps",
    "permit_left_ms": "ms that the run permit still lives",
    "run_ms": "ms since the start of this run, or length of the last",
    "pedal_presses": "short presses since the board started; wraps",
    "dropped_frames": "damaged frames since the board started; wraps",
    "sensor": "0 table, 1 lap",
    "first_number": "running number of the first stamp; a step means a lost batch",
    "stamps_us": "us of the board's clock; wraps at 2^32",
    "to_kind": "number of the message answered",
    "to_epoch": "its epoch",
    "to_seq": "its seq",
    "refusal": "0 done, else why it was refused",
    "detail": "the limit concerned, the echo, or the new epoch",
    "latched": "1: a reset will be asked for",
    "at_ms": "ms of the board's clock at the decision",
}

FLAGS = (
    ("ENABLED", "the drive may have power"),
    ("ESTOP_OPEN", "the emergency stop's reporting contact is open; reported only"),
    ("PEDAL_PRESSED", "the pedal is pressed"),
    ("POWER_READBACK", "the drive has power, says its relay"),
    ("AT_REST", "no table edge for 1 s (longer with fewer than 24 targets)"),
    ("HAS_OWNER", "some host is the owner"),
    ("PERMIT_LIVE", "the run permit is alive"),
    ("LAP_EXPECTED", "the board watches for a lap that came off"),
    ("SETTINGS_DAMAGED", "no sound settings were found in flash"),
    ("NOISY_TABLE_SENSOR", "more than 5 % bad edges"),
    ("END_REACHED", "the planned end has passed"),
    ("CONTACTOR_ON", "the main contactor is asked to be closed"),
)

REASONS = {
    "none": "no stop",
    "planned_end": "the segment's end; the board's own, when the host does not end it in time",
    "host_stop": "a person pressed STOP at the computer",
    "pedal_stop": "the pedal was held for 0.8 s",
    "raw_stop": "the stop of a bare terminal",
    "end_unanswered": "the end was called and nobody answered",
    "program_closed": "the host program was ended",
    "permit_expired": "the host was silent for the life of the run permit",
    "overspeed": "table faster than 1.15 x the ramp + 2 rpm, or than the ceiling + 2 rpm",
    "overload": "load over the limit for 0.3 s, or under half speed while pushing for 0.5 s",
    "table_sensor_dead": "no table edge for 0.5 s and three gaps (2 s at the start)",
    "table_sensor_noisy": "more than 5 % bad table edges for 2 s",
    "drive_not_following": "table off by 2 rpm and 10 % outside ramps, from the start at this speed",
    "belt_slip": "table more than 10 % slow at light load, after it had followed this speed",
    "power_not_off": "power, current or a speeding table after power-off; locks the board until serviced",
    "power_not_on": "no power 0.5 s after it was ordered",
    "lap_grabbed": "load up 60 % in 0.2 s, or table braked at 4 rad/s2 with load rising",
    "lap_off": "lap sensor silent and load down 40 %",
    "estop_open": "the emergency stop was pressed; the wire has cut the power already",
    "pedal_stuck": "the pedal was pressed for 10 s, or its wire is broken",
    "controller_fault": "an error in the board's own program",
    "watchdog_reset": "the board's watchdog restarted it",
    "brown_out": "the board's supply sagged",
    "board_reset": "the board was restarted",
    "lap_stalled": "the host: the lap stopped turning",
    "lap_sensor_dead": "the host: no lap edges, and nobody said that the lap turns",
    "lap_jerky": "the host: the lap moves in jerks",
    "dry_lap": "the host: the lap ran dry",
    "lap_off_post": "the host: the lap left its place",
    "link_lost": "the host: the port is gone",
    "board_silent": "the host: no status from the board",
    "face_silent": "the host: the screen no longer answers",
    "disk_full": "the host: the logbook cannot be written",
    "program_error": "the host: an error of the program",
    "host_fault": "the host: another fault",
    "computer_slept": "the host: the computer was asleep",
    "lap_slowing": "the host: the lap lost more and more speed",
    "lap_not_true": "the host: the lap did not come to turn true",
    "offer_unanswered": "the host: nobody let it speed up",
    "hold_unanswered": "the host: held slow for too long",
    "speed_not_reached": "the host: the speed asked for was not reached",
    "rest_not_reached": "the host: the table was slow to come to rest",
    "start_unanswered": "the host: the board did not start, or the program was held up meanwhile",
}

REFUSALS = {
    "ok": "done",
    "unknown_kind": "no message of that number",
    "bad_layout": "the body does not fit its number",
    "version_differs": "another protocol version: look on and stop only",
    "schema_differs": "another table of messages: look on and stop only",
    "not_owner": "the token is not the owner's",
    "owned_by_another": "another host is the owner",
    "wrong_state": "not in this state (detail)",
    "wrong_epoch": "from before the last Arm or greeting (detail: the epoch now)",
    "stale": "older than one already taken, or quotes a board time too old",
    "out_of_range": "beyond the limit in detail",
    "above_ceiling": "faster than the ceiling in detail",
    "estop_is_open": "the emergency stop is pressed",
    "fault_latched": "tripped by the reason in detail; reset first",
    "table_moving": "the table has not been at rest for long enough",
    "too_soon": "Run less than 0.5 s after Arm",
    "arm_expired": "Run more than 10 s after Arm",
    "pedal_pressed": "the pedal is pressed or its wire is broken",
    "wrong_fault": "the latched reason is the one in detail",
    "old_value_differs": "the setting has the value in detail",
    "service_locked": "not commissioned yet, or locked after power that stayed on",
    "power_is_on": "the drive has power although it should not",
}

SETTING_UNITS = {
    "table_edges_per_turn": "edges",
    "lap_edges_per_turn": "edges",
    "ceiling_mrpm": "0.001 rpm",
    "ramp_up_mrad_s2": "0.001 rad/s2",
    "planned_stop_mrad_s2": "0.001 rad/s2",
    "fault_stop_mrad_s2": "0.001 rad/s2",
    "t_ss1_ms": "ms",
    "load_limit_permille": "0.1 %",
    "load_zero_counts": "ADC counts",
    "load_span_counts": "ADC counts",
    "full_scale_mrpm": "0.001 rpm",
    "pedal_fitted": "yes/no",
    "lap_sensor_fitted": "yes/no",
    "readback_fitted": "yes/no",
    "debounce_us": "us",
    "service_lock": "yes/no",
}
