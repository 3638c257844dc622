"""The board behind a transport: bytes to readings, and wishes to frames.

Pure in time: `now_s` is the host's clock, handed in. `poll` does all the work of a step and never raises:
a transport that fails becomes a `Lost` reading. Loss is decided by silence, since a hung board raises
nothing: no status for half a second.
"""

from __future__ import annotations

from benchctl.errors import LinkLost
from benchctl.link.board_time import BoardTime
from benchctl.link.orders import Order, Outbox
from benchctl.link.transport import Transport
from benchctl.models.readings import (
    Armed,
    CaptureDamage,
    Hello,
    LapPulse,
    Lost,
    PedalPress,
    Reading,
    Refused,
    Running,
    Status,
    TablePulse,
)
from firmware_protocol import codec, frames, messages, reasons
from firmware_protocol.settings import Settings

SILENT_S = 0.5
HELLO_EVERY_S = 0.5
STOP_EVERY_S = 0.05
STOP_COPIES = 3

_REASON_NAMES = {row[0]: row[1] for row in reasons.REASONS}
_REASON_KINDS = {row[0]: row[2] for row in reasons.REASONS}
_REASON_NUMBERS = {row[1]: row[0] for row in reasons.REASONS} | {
    "person": reasons.HOST_STOP,
    "lap_off": reasons.LAP_OFF_POST,
}
_REFUSAL_NAMES = dict(reasons.REFUSALS)
_CALLS = {
    "quiet": messages.CALL_NONE,
    "wet_down": messages.CALL_WET_DOWN,
    "caution": messages.CALL_WET_DOWN,
    "end": messages.CALL_END,
    "fault": messages.CALL_FAULT,
}


class BoardLink:
    """Talks to one board. The fields are for reading; see BoardPort in the session for the calls."""

    def __init__(self, transport: Transport, owner: int) -> None:
        self._transport = transport
        self._owner = owner
        self._frames = frames.FrameReader()
        self._outbox = Outbox()
        self._time = BoardTime()
        self._epoch = 0
        self._hello_s: float | None = None
        self._owned = False
        self._stop: tuple[object, ...] | None = None
        self._stop_s = 0.0
        self._heard_since_stop = False
        self._dead = False
        self._presses: int | None = None
        self._status_ms = 0
        self._edge_numbers: dict[int, int] = {}
        self.edges_missed = 0
        self.unknown_messages = 0
        self.last_status: Status | None = None
        self.last_status_at_s: float | None = None
        self.board: Hello | None = None
        self.settings: Settings | None = None
        self.lost = False

    @property
    def frames_damaged(self) -> int:
        """Stretches of bytes that were no whole frame."""
        return int(self._frames.dropped)

    @property
    def targets(self) -> tuple[int, int] | None:
        """Targets a turn of lap and table, once the board has told its settings."""
        kept = self.settings
        return None if kept is None else (kept.lap_edges_per_turn, kept.table_edges_per_turn)

    @property
    def clock_offset_s(self) -> float | None:
        """Board time minus host time, or None before the first exchange."""
        return self._time.offset_s

    @property
    def monitor_only(self) -> bool:
        """Whether the board speaks another protocol: it may be watched and stopped, not started."""
        return self.board is not None and not (
            self.board.schema_matches and self.board.protocol[0] == messages.VERSION
        )

    # Wishes

    def hello(self, now_s: float) -> None:
        """Ask the board who it is, and to be its owner."""
        self._hello_s = now_s
        message = messages.Hello(
            messages.MAGIC, self._owner, messages.VERSION, messages.MINOR, codec.SCHEMA_HASH
        )
        self._send(message, seq=self._outbox.next_seq())
        if self.settings is None:
            self._send(messages.ReadSettings(0), seq=self._outbox.next_seq())

    def arm(self, now_s: float, ceiling_rpm: float) -> None:
        """Ask the board to arm, with a ceiling that may only lower its own."""
        ceiling = _mrpm(ceiling_rpm)
        load_limit = 2000
        if self.settings is not None:
            ceiling = min(ceiling, self.settings.ceiling_mrpm)
            load_limit = self.settings.load_limit_permille
        self._order("arm", messages.Arm(self._owner, ceiling, load_limit, 1))

    def run(self, now_s: float, rpm: float, call_after_s: float, end_after_s: float, wait_s: float) -> None:
        """Ask the armed board to turn the table, and tell it when to call and when to stop by itself."""
        times = (_ms(call_after_s), _ms(end_after_s), _ms(wait_s))
        self._order("run", messages.Run(self._owner, self._status_ms, _mrpm(rpm), *times))

    def set_speed(self, now_s: float, rpm: float) -> None:
        """Ask for another speed."""
        self._order("set_speed", messages.SetSpeed(self._owner, _mrpm(rpm)))

    def stop(self, now_s: float, planned: bool, reason: str) -> None:
        """Send STOP three times at once, and again every 50 ms until a status says that it is obeyed."""
        kind = reasons.PLANNED if planned else reasons.CONTROLLED_THEN_OFF
        self._stop = messages.Stop(kind, _REASON_NUMBERS.get(reason, reasons.HOST_FAULT))
        self._heard_since_stop = False
        self._outbox.clear()
        for _ in range(STOP_COPIES):
            self._send(self._stop)
        self._stop_s = now_s

    def reset(self, now_s: float) -> None:
        """Ask the board to clear the fault it has latched; it refuses while the cause stands."""
        fault = None if self.last_status is None else self.last_status.reason
        self._order("reset", messages.Reset(self._owner, _REASON_NUMBERS.get(fault or "", 0)))

    def call(self, now_s: float, pattern: str) -> None:
        """Let buzzer and lamp call; the board goes on with it even if the program dies."""
        self._order("call", messages.Call(self._owner, _CALLS.get(pattern, messages.CALL_FAULT)))

    def write_setting(self, now_s: float, setting: int, old: int, new: int) -> None:
        """Ask the board to store one setting; it wants the old value quoted, and to rest disarmed."""
        self._order("write_setting", messages.WriteSetting(self._owner, setting, old, new))
        self._order("read_settings", messages.ReadSettings(0))

    def renew(self, now_s: float) -> None:
        """Renew the run permit, quoting the newest board time seen."""
        if self.last_status is not None and not self.lost:
            self._send(messages.Renew(self._owner, self._status_ms), seq=self._outbox.next_seq())

    def close(self) -> None:
        """Give the transport back."""
        self._transport.close()

    # The step

    def poll(self, now_s: float) -> list[Reading]:
        """Read what has come, send what is due; the readings in the order they arrived."""
        out: list[Reading] = []
        damaged = self._frames.dropped
        try:
            data = self._transport.read()
        except LinkLost as error:
            self._dead = True
            self._lose(str(error), out)
            return out
        for payload in self._frames.feed(data):
            self._take(payload, now_s, out)
        if self._frames.dropped > damaged:
            out.append(CaptureDamage(self._board_s(), self._frames.dropped - damaged))
        self._service(now_s, out)
        if self.last_status_at_s is not None and now_s - self.last_status_at_s > SILENT_S:
            self._lose("no word from the board for half a second", out)
        return out

    def _service(self, now_s: float, out: list[Reading]) -> None:
        if self._dead:
            return
        if self._stop is not None and now_s - self._stop_s >= STOP_EVERY_S:
            self._stop_s = now_s
            self._send(self._stop)
        if not self._owned and (self._hello_s is None or now_s - self._hello_s >= HELLO_EVERY_S):
            self.hello(now_s)
        if self._outbox.given_up(now_s):
            order = self._outbox.drop()
            if order is not None:
                out.append(Refused(self._board_s(), order.name, "no_answer"))
        due = self._outbox.due(now_s, self._epoch)
        if due is not None:
            self._send(due.order.message, due.epoch, due.seq)

    def _order(self, name: str, message: tuple[object, ...]) -> None:
        self._outbox.put(Order(name, message))

    def _send(self, message: tuple[object, ...], epoch: int | None = None, seq: int = 0) -> None:
        if self._dead:
            return
        payload = codec.encode(message, self._epoch if epoch is None else epoch, seq, 0)
        try:
            self._transport.write(frames.encode(payload))
        except LinkLost:
            self._dead = True

    def _lose(self, why: str, out: list[Reading]) -> None:
        if not self.lost:
            self.lost = True
            out.append(Lost(self._board_s(), why))

    def _board_s(self) -> float:
        return 0.0 if self.last_status is None else self.last_status.at_s

    # What comes in

    def _take(self, payload: bytes, now_s: float, out: list[Reading]) -> None:
        try:
            header, message = codec.decode(payload)
        except ValueError:
            self.unknown_messages += 1
            return
        if message is None or header.version != messages.VERSION:
            self.unknown_messages += 1
            return
        if isinstance(message, messages.Boot):
            self._time.restart()
            self._owned, self.settings = False, None
        at_s = self._time.seconds(header.t_ms)
        self._epoch = header.epoch
        if isinstance(message, messages.Status):
            self._status_ms = header.t_ms
            self._take_status(message, at_s, now_s, out)
        elif isinstance(message, messages.Edges):
            self._take_edges(message, at_s, out)
        elif isinstance(message, messages.Reply):
            self._take_reply(message, at_s, now_s, out)
        elif isinstance(message, messages.Identity):
            self._take_identity(message, at_s, out)
        elif isinstance(message, Settings):
            self.settings = message

    def _take_status(self, status: messages.Status, at_s: float, now_s: float, out: list[Reading]) -> None:
        self.last_status = self._reading(status, at_s)
        self.last_status_at_s = now_s
        if not self._dead:
            self.lost = False
        out.append(self.last_status)
        if self._stop is not None:
            obeyed = status.state not in (messages.RUNNING, messages.ARMED)
            if obeyed and self._heard_since_stop:
                self._stop = None
            self._heard_since_stop = True
        if self._presses is not None and status.pedal_presses != self._presses:
            out.append(PedalPress(at_s, held=False))
        self._presses = status.pedal_presses

    def _reading(self, status: messages.Status, at_s: float) -> Status:
        per_turn = self.settings
        return Status(
            at_s=at_s,
            board_state=messages.STATE_NAMES[min(status.state, messages.TRIPPED)],
            reason=_REASON_NAMES.get(status.reason, f"reason_{status.reason}") if status.reason else None,
            stop_kind=_kind_name(status),
            set_rpm=status.set_mrpm / 1000.0,
            target_rpm=status.target_mrpm / 1000.0,
            table_rpm=status.table_mrpm / 1000.0,
            load_percent=status.load_permille / 10.0,
            enabled=bool(status.flags & messages.ENABLED),
            estop_open=bool(status.flags & messages.ESTOP_OPEN),
            pedal_pressed=bool(status.flags & messages.PEDAL_PRESSED),
            table_turns=status.table_edges / (24 if per_turn is None else per_turn.table_edges_per_turn),
            lap_turns=status.lap_edges / (12 if per_turn is None else per_turn.lap_edges_per_turn),
        )

    def _take_edges(self, edges: messages.Edges, at_s: float, out: list[Reading]) -> None:
        expected = self._edge_numbers.get(edges.sensor)
        if expected is not None and edges.first_number > expected:
            self.edges_missed += edges.first_number - expected
        self._edge_numbers[edges.sensor] = edges.first_number + len(edges.stamps_us)
        make = TablePulse if edges.sensor == messages.TABLE_SENSOR else LapPulse
        out.extend(make(self._time.stamp_seconds(stamp, at_s)) for stamp in edges.stamps_us)

    def _take_reply(self, reply: messages.Reply, at_s: float, now_s: float, out: list[Reading]) -> None:
        if reply.to_kind == messages.HELLO:
            self._owned = reply.refusal == reasons.OK
            if self._hello_s is not None:
                self._time.round_trip(self._hello_s, now_s, at_s)
            if reply.refusal != reasons.OK:
                out.append(Refused(at_s, "hello", _REFUSAL_NAMES.get(reply.refusal, "refused")))
            return
        order = self._outbox.answered(reply.to_epoch, reply.to_seq)
        if order is None:
            return
        if reply.refusal != reasons.OK:
            out.append(Refused(at_s, order.name, _REFUSAL_NAMES.get(reply.refusal, "refused")))
        elif order.name == "arm":
            out.append(Armed(at_s))
        elif order.name == "run":
            out.append(Running(at_s))

    def _take_identity(self, identity: messages.Identity, at_s: float, out: list[Reading]) -> None:
        self.board = Hello(
            at_s=at_s,
            board_id=identity.board_id,
            firmware_id=identity.firmware_id,
            protocol=(identity.major, identity.minor),
            schema_matches=identity.schema == codec.SCHEMA_HASH,
            boot_count=identity.boot_counter,
            reset_cause=messages.RESET_CAUSE_NAMES[min(identity.reset_cause, 3)],
            ceiling_rpm=identity.ceiling_mrpm / 1000.0,
        )
        out.append(self.board)


def _kind_name(status: messages.Status) -> str | None:
    """The kind of the last stop; a board that restarted reports a reason without a kind of stop."""
    kind = status.stop_kind or _REASON_KINDS.get(status.reason, 0)
    return reasons.STOP_KIND_NAMES[kind] if 0 < kind < len(reasons.STOP_KIND_NAMES) else None


def _mrpm(rpm: float) -> int:
    return round(rpm * 1000.0)


def _ms(seconds: float) -> int:
    return round(seconds * 1000.0)
