"""What the board says: status, edges, stops, replies, who it is; and the box they wait in.

Status and edges are made when the port takes them, so a full port costs old status, never a reply.
Edges go before the status of their time, so that the host sees both in the order of time.
"""

from firmware_protocol import codec, messages
from firmware_protocol import reasons as r
from firmware_protocol.desk import Desk
from firmware_protocol.edges import EdgeLine
from firmware_protocol.lease import LEASE_MS
from firmware_protocol.messages import RUNNING, TRIPPED
from firmware_protocol.motion import Motion
from firmware_protocol.table_speed import NOISY_AT

STATUS_PERIOD_MS = 100
EDGE_BATCH_MS = 50
OUTBOX = 16
BOOT_FRAMES = 3
BOOT_PERIOD_MS = 1000
MASK32 = 0xFFFFFFFF


class Reports:
    """The board's mouth. The controller sets `now_ms`, `call`, `settings_damaged` and `dropped_frames`."""

    def __init__(
        self, motion: Motion, desk: Desk, names: tuple[str, str], boot_counter: int, reset_cause: int
    ) -> None:
        self.now_ms = 0
        self.call = messages.CALL_NONE
        self.settings_damaged = False
        self.dropped_frames = 0
        self._motion = motion
        self._desk = desk
        self._names = names
        self._boot = (boot_counter & MASK32, reset_cause)
        self._outbox: list[bytes] = []
        self._seq = 0
        self._status_at = 0
        self._edges_at = 0
        self._boots_left = BOOT_FRAMES
        self._boot_at = 0

    def take(self) -> list[bytes]:
        """All that is due now."""
        up_ms = self._motion.up_ms
        if self._boots_left and up_ms >= self._boot_at:
            self._boots_left -= 1
            self._boot_at = up_ms + BOOT_PERIOD_MS
            self.send(messages.Boot(messages.MAGIC, *self._boot))
        if up_ms >= self._edges_at or up_ms >= self._status_at:
            self._edges_at = up_ms + EDGE_BATCH_MS
            if self._motion.table_line.waiting:
                self._send_edges(messages.TABLE_SENSOR, self._motion.table_line)
            if self._motion.lap.waiting:
                self._send_edges(messages.LAP_SENSOR, self._motion.lap)
        if up_ms >= self._status_at:
            self._status_at = up_ms + STATUS_PERIOD_MS
            self.send(self._status())
        taken = self._outbox
        if taken:
            self._outbox = []
        return taken

    def hurry(self) -> None:
        """Something changed: status is due at once."""
        self._status_at = self._motion.up_ms

    def send(self, message: tuple[object, ...]) -> bytes:
        """Put a message in the box; its payload."""
        payload = codec.encode(message, self._desk.epoch, self._seq, self.now_ms)
        self._seq = (self._seq + 1) & 0xFFFF
        self.queue(payload)
        return payload

    def queue(self, payload: bytes) -> None:
        """Put a payload in the box. With 16 waiting nobody is reading, and it is lost."""
        if len(self._outbox) < OUTBOX:
            self._outbox.append(payload)

    def reply(self, header: messages.Header, refusal: int, detail: int) -> bytes:
        """Answer the message with that header."""
        state = self._motion.state
        return self.send(messages.Reply(header.kind, header.epoch, header.seq, refusal, state, detail))

    def stopping(self) -> None:
        """Tell of the stop that just began."""
        motion = self._motion
        set_mrpm, table_mrpm, load = motion.stop_speeds
        self.send(
            messages.Stopping(
                motion.reason,
                motion.stop_kind,
                int(r.latches(motion.reason)),
                self.now_ms,
                set_mrpm,
                min(table_mrpm, MASK32),
                min(load, 0xFFFF),
            )
        )

    def identity(self) -> None:
        """Tell who this is; the host has been heard, so no more boot frames."""
        self._boots_left = 0
        motion = self._motion
        self.send(
            messages.Identity(
                messages.MAGIC,
                messages.VERSION,
                messages.MINOR,
                codec.SCHEMA_HASH,
                *self._boot,
                motion.state,
                motion.reason if motion.state == TRIPPED else r.NONE,
                motion.settings.ceiling_mrpm,
                LEASE_MS,
                *self._names,
            )
        )

    def _send_edges(self, sensor: int, line: EdgeLine) -> None:
        while line.waiting and len(self._outbox) < OUTBOX:
            first, stamps = line.take()
            self.send(messages.Edges(sensor, first, stamps))

    def _status(self) -> messages.Status:
        motion = self._motion
        table = motion.table
        return messages.Status(
            motion.state,
            self._flags(),
            motion.reason,
            motion.stop_kind,
            motion.ramp.now_mrpm,
            motion.ramp.target_mrpm,
            min(table.now_mrpm(), MASK32),
            min(motion.load, 0xFFFF),
            motion.table_line.count,
            motion.lap.count,
            table.bad,
            motion.permit.left_ms(motion.up_ms),
            motion.run_ms & MASK32,
            motion.pedal.presses,
            self.call,
            self.dropped_frames & 0xFFFF,
        )

    def _flags(self) -> int:
        motion = self._motion
        flags = messages.ENABLED if motion.enable else 0
        if motion.estop_open:
            flags |= messages.ESTOP_OPEN
        if motion.pedal.pressed:
            flags |= messages.PEDAL_PRESSED
        if motion.readback:
            flags |= messages.POWER_READBACK
        if motion.table.at_rest():
            flags |= messages.AT_REST
        if self._desk.token:
            flags |= messages.HAS_OWNER
        if motion.permit.live(motion.up_ms):
            flags |= messages.PERMIT_LIVE
        if motion.checks.lap_expected:
            flags |= messages.LAP_EXPECTED
        if self.settings_damaged:
            flags |= messages.SETTINGS_DAMAGED
        if motion.table.noise >= NOISY_AT:
            flags |= messages.NOISY_TABLE_SENSOR
        if motion.state == RUNNING and motion.run_ms >= motion.end_after_ms:
            flags |= messages.END_REACHED
        if motion.contactor:
            flags |= messages.CONTACTOR_ON
        return flags
