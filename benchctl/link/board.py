"""The board behind a transport: bytes to readings, and wishes to frames.

Pure in time: `now_s` is the host's clock, handed in. `poll` does all the work of a step and never raises:
a transport that fails becomes a `Lost` reading. Loss is decided by silence, since a hung board raises
nothing: no status in half a second of listening. A transport that works again is greeted anew; nothing
restarts by it.
"""

from __future__ import annotations

from benchctl.errors import LinkLost
from benchctl.link import wire_words
from benchctl.link.board_time import BoardTime
from benchctl.link.edge_batches import EdgeBatches
from benchctl.link.orders import Asked, Order, Outbox
from benchctl.link.silence import Silence
from benchctl.link.stop_call import StopCall
from benchctl.link.transport import Transport
from benchctl.models.readings import (
    Armed,
    CaptureDamage,
    Hello,
    Lost,
    PedalPress,
    Reading,
    Refused,
    Running,
    Status,
)
from firmware_protocol import codec, frames, messages, reasons
from firmware_protocol.settings import Settings, load, store

HELLO_EVERY_S = 0.5
PING_EVERY_S = 1.0
_GREET_AGAIN = (reasons.NOT_OWNER, reasons.WRONG_EPOCH)


class BoardLink:
    """Talks to one board. The fields are for reading; see BoardPort in the session for the calls.

    With `listen_only` it sends nothing and reports what the board answers to somebody else's orders.
    """

    def __init__(self, transport: Transport, owner: int, *, listen_only: bool = False) -> None:
        self._listen_only = listen_only
        self._overheard: tuple[int, int, int] | None = None
        self._transport = transport
        self._owner = owner
        self._frames = frames.FrameReader()
        self._outbox = Outbox(owner)
        self._asked = Asked(owner)
        self._time = BoardTime()
        self._out: list[Reading] = []
        self._epoch = 0
        self._owned = False
        self._hello_refused: str | None = None
        self._stop = StopCall()
        self._renew_again = False
        self._dead: str | None = None
        self._presses: int | None = None
        self._status_ms = 0
        self._fault = 0
        self._edges = EdgeBatches()
        self._silence = Silence()
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
    def edges_missed(self) -> int:
        """Edge stamps that were lost on the way, both sensors together."""
        return self._edges.missed

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
    def owned(self) -> bool:
        """Whether the board has taken this program as the one that gives orders."""
        return self._owned

    @property
    def monitor_only(self) -> bool:
        """Whether the board speaks another protocol: it may be watched and stopped, not started."""
        return self.board is not None and wire_words.strange(self.board) is not None

    # Wishes

    def hello(self, now_s: float) -> None:
        """Ask the board who it is, and to be its owner."""
        message = messages.Hello(
            messages.MAGIC, self._owner, messages.VERSION, messages.MINOR, codec.SCHEMA_HASH
        )
        self._ask(messages.HELLO, message, now_s)
        if self.settings is None:
            self._ask(messages.READ_SETTINGS, messages.ReadSettings(0), now_s)

    def arm(self, now_s: float, ceiling_rpm: float) -> None:
        """Ask the board to arm, with a ceiling that may only lower its own."""
        ceiling, load_limit = wire_words.mrpm(ceiling_rpm), 0
        if self.settings is not None:
            ceiling = min(ceiling, self.settings.ceiling_mrpm)
            load_limit = self.settings.load_limit_permille
        elif not self.monitor_only:
            self._refuse("arm", "settings_unknown")
            return
        self._order(now_s, "arm", messages.Arm(self._owner, ceiling, load_limit, 1))

    def run(self, now_s: float, rpm: float, call_after_s: float, end_after_s: float, wait_s: float) -> None:
        """Ask the armed board to turn the table, and tell it when to call and when to stop by itself."""
        times = [wire_words.milliseconds(seconds) for seconds in (call_after_s, end_after_s, wait_s)]
        run = messages.Run(self._owner, self._status_ms, wire_words.mrpm(rpm), *times)
        self._order(now_s, "run", run)

    def set_speed(self, now_s: float, rpm: float) -> None:
        """Ask for another speed."""
        self._order(now_s, "set_speed", messages.SetSpeed(self._owner, wire_words.mrpm(rpm)))

    def stop(self, now_s: float, planned: bool, reason: str) -> None:
        """Send STOP three times at once, and again every 50 ms until a status says that it is obeyed."""
        kind = reasons.PLANNED if planned else reasons.CONTROLLED_THEN_OFF
        self._renew_again = False
        self._outbox.clear()
        for message in self._stop.begin(messages.Stop(kind, wire_words.stop_reason(reason)), now_s):
            self._send(message)

    def reset(self, now_s: float) -> None:
        """Ask the board to clear the fault it has latched; it refuses while the cause stands."""
        self._order(now_s, "reset", messages.Reset(self._owner, self._fault))

    def call(self, now_s: float, pattern: str) -> None:
        """Let buzzer and lamp call; the board goes on with it even if the program dies."""
        self._order(now_s, "call", messages.Call(self._owner, wire_words.call_number(pattern)))

    def write_setting(self, now_s: float, setting: int, old: int, new: int) -> None:
        """Ask the board to store one setting; it wants the old value quoted, and to rest disarmed."""
        self._order(now_s, "write_setting", messages.WriteSetting(self._owner, setting, old, new))
        self._order(now_s, "read_settings", messages.ReadSettings(0))

    def renew(self, now_s: float) -> None:
        """Renew the run permit, quoting the newest board time seen; once more at the next poll, for loss."""
        self._renew_again = self.last_status is not None and not self.lost
        if self._renew_again:
            self._send(messages.Renew(self._owner, self._status_ms), seq=self._asked.next_number())

    def close(self) -> None:
        """Give the transport back."""
        self._transport.close()

    # The step

    def poll(self, now_s: float) -> list[Reading]:
        """Read what has come, send what is due; the readings in the order they arrived."""
        damaged = self._frames.dropped
        self._silence.poll(now_s)
        try:
            data = self._transport.read()
        except LinkLost as error:
            self._dead = str(error)
            data = b""
        for payload in self._frames.feed(data):
            self._take(payload, now_s)
        if self._frames.dropped > damaged:
            self._out.append(CaptureDamage(self._board_s(), self._frames.dropped - damaged))
        if not self._listen_only:
            self._service(now_s)
        if self._dead is not None:
            self._owned = False
            self._outbox.clear()
            self._lose(self._dead)
            self._dead = None
        elif self._silence.too_long:
            self._lose("no word from the board for half a second")
        out, self._out = self._out, []
        return out

    def _service(self, now_s: float) -> None:
        for message in self._stop.due(now_s):
            self._send(message)
        if self._renew_again:
            self.renew(now_s)
            self._renew_again = False
        if not self._owned:
            if not self.monitor_only and self._asked.since_s(messages.HELLO, now_s) >= HELLO_EVERY_S:
                self.hello(now_s)
        elif self.settings is None and self._asked.since_s(messages.READ_SETTINGS, now_s) >= HELLO_EVERY_S:
            self._ask(messages.READ_SETTINGS, messages.ReadSettings(0), now_s)
        elif self._asked.since_s(messages.PING, now_s) >= PING_EVERY_S:
            self._ask(messages.PING, messages.Ping(0), now_s)
        for order in self._outbox.given_up(now_s):
            why = None if self._owned else self._hello_refused
            self._refuse(order.name, why or "no_answer")
        if self._owned and (due := self._outbox.due(now_s, self._epoch)) is not None:
            self._send(due.order.message, due.epoch, due.seq)

    def _ask(self, kind: int, message: tuple[object, ...], now_s: float) -> None:
        self._send(message, seq=self._asked.again(kind, now_s))

    def _order(self, now_s: float, name: str, message: tuple[object, ...]) -> None:
        if self.board is not None and (why := wire_words.strange(self.board)) is not None:
            return self._refuse(name, why)
        try:
            codec.encode(message)
        except ValueError:
            return self._refuse(name, "out_of_range")
        return self._outbox.put(Order(name, message, now_s))

    def _send(self, message: tuple[object, ...], epoch: int | None = None, seq: int = 0) -> None:
        if self._listen_only:
            return
        payload = codec.encode(message, self._epoch if epoch is None else epoch, seq, 0)
        try:
            self._transport.write(frames.encode(payload))
        except LinkLost as error:
            self._dead = str(error)

    def _refuse(self, name: str, why: str) -> None:
        self._out.append(Refused(self._board_s(), name, why))

    def _lose(self, why: str) -> None:
        if not self.lost:
            self.lost = True
            self._out.append(Lost(self._board_s(), why))

    def _board_s(self) -> float:
        return 0.0 if self.last_status is None else self.last_status.at_s

    # What comes in

    def _take(self, payload: bytes, now_s: float) -> None:
        try:
            header, message = codec.decode(payload)
        except ValueError:
            header, message = codec.header_of(payload), None
        ours = header.version == messages.VERSION
        if message is None or not (ours or isinstance(message, messages.Identity | messages.Status)):
            self.unknown_messages += 1
            return
        if self._time.began_anew(header.t_ms) or self._another_start(message):
            self._begin_anew()
        at_s = self._time.seconds(header.t_ms)
        if self._time.newest_ms == header.t_ms:
            self._epoch = header.epoch
        if isinstance(message, messages.Status):
            self._take_status(message, header.t_ms, at_s, now_s)
        elif isinstance(message, messages.Edges):
            self._out.extend(self._edges.readings(message, at_s))
        elif isinstance(message, messages.Reply):
            self._take_reply(message, at_s, now_s)
        elif isinstance(message, messages.Identity):
            self.board = wire_words.hello_reading(message, at_s)
            self._out.append(self.board)
            if (why := wire_words.strange(self.board)) is not None:
                self._not_greeted(why)
        elif isinstance(message, Settings) and load(store(message)) is not None:
            self.settings = message

    def _another_start(self, message: tuple[object, ...]) -> bool:
        """Whether a board tells of another start than the one that is known, or is another board."""
        if not isinstance(message, messages.Identity):
            return isinstance(message, messages.Boot)
        known = self.board
        return known is not None and (message.boot_counter, message.board_id) != (
            known.boot_count,
            known.board_id,
        )

    def _begin_anew(self) -> None:
        """The board restarted: its clock, counters and owner are new; what was asked before is void."""
        self._time.restart()
        self._outbox.clear()
        self._owned, self.settings = False, None
        self._presses = self.last_status = None
        self._edges.restart()

    def _take_status(self, status: messages.Status, t_ms: int, at_s: float, now_s: float) -> None:
        self._silence.broken()
        if not status.flags & messages.HAS_OWNER:
            self._owned = False
        if self.last_status is not None and at_s <= self.last_status.at_s:
            return
        self.last_status_at_s = now_s
        self._status_ms, self._fault = t_ms, status.reason
        self.last_status = wire_words.status_reading(status, at_s, self.settings)
        self.lost = False
        self._out.append(self.last_status)
        self._stop.status(status.state, certain=not self.monitor_only)
        if self._presses is not None and status.pedal_presses != self._presses:
            self._out.append(PedalPress(at_s, held=False))
        self._presses = status.pedal_presses

    def _take_reply(self, reply: messages.Reply, at_s: float, now_s: float) -> None:
        asked_s = self._asked.asked_s(reply.to_kind, reply.to_seq)
        if asked_s is not None:
            self._time.round_trip(asked_s, now_s, at_s)
        if reply.to_kind == messages.HELLO:
            if asked_s is not None or self._listen_only:
                self._take_greeting(reply)
            return
        name = self._answered(reply)
        if reply.refusal in _GREET_AGAIN:
            self._owned = False
        if name is None:
            return
        if reply.refusal != reasons.OK:
            self._refuse(name, wire_words.refusal(reply.refusal))
        elif name == "arm":
            self._out.append(Armed(at_s))
        elif name == "run":
            self._out.append(Running(at_s))

    def _answered(self, reply: messages.Reply) -> str | None:
        """The name of the order that a reply belongs to; None where it was answered before or is not ours."""
        name = wire_words.ORDER_NAMES.get(reply.to_kind, "")
        if not self._listen_only:
            order = self._outbox.answered(name, reply.to_epoch, reply.to_seq)
            return None if order is None else name
        key = (reply.to_kind, reply.to_epoch, reply.to_seq)
        again, self._overheard = key == self._overheard, key
        return None if again else name or None

    def _take_greeting(self, reply: messages.Reply) -> None:
        self._owned = reply.refusal == reasons.OK
        if self._owned:
            self._hello_refused = None
        else:
            self._not_greeted(wire_words.refusal(reply.refusal))

    def _not_greeted(self, why: str) -> None:
        """Say once why the board takes no orders from here."""
        if why != self._hello_refused:
            self._hello_refused = why
            self._refuse("hello", why)
