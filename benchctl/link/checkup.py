"""The check of a bench, line by line: port, board, sensors, contacts, and the stop function.

Pure in time: `step(now_s, typed)` is called every 20 to 50 ms with what the person has typed since; words
for the person come back, lines gather in `lines`. The table is turned only with `turn` asked for and
confirmed, at 5 rpm or as asked, and every way out of that sends STOP. The word that confirms is none of
those typed while turning by hand, and counts only if typed after the question. None of it is a safety-rated
function.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from statistics import fmean

from benchctl.link import checkup_lines as say
from benchctl.link.board import BoardLink
from benchctl.link.board_settings import plan_of
from benchctl.link.checkup_lines import Line
from benchctl.link.creep_trial import CREEP_RPM, MEASURE_S, CreepTrial
from benchctl.link.refusal_words import refusal_sentence
from benchctl.link.seen import Seen
from benchctl.models.bench_config import BoardPlan

ANSWER_S = 3.0
LISTEN_S = 0.5
CONFIRM_S = 120.0
TELL_EVERY_S = 1.0
SOUND_S = 2.5
CONFIRMED = "run"
AFTER_BOARD = (
    "settings",
    "table sensor",
    "lap sensor",
    "load",
    "pedal",
    "emergency-stop contact",
    "stop function",
)


@dataclass(frozen=True)
class Wishes:
    """What is to be tried: seconds of watching by hand, turning and how, sounding; what bench.toml says."""

    plan: BoardPlan
    seconds: float = 20.0
    turn: bool = False
    turn_rpm: float = CREEP_RPM
    turn_s: float = MEASURE_S
    sound: bool = False


class Checkup:
    """One check over a link. `over` when done; then `unheard`, `refused` and `lines` say how it went."""

    def __init__(self, link: BoardLink, wishes: Wishes, port_words: str) -> None:
        self.link = link
        self.wishes = wishes
        self.lines = [Line("port", "right", port_words)]
        self.over = False
        self.unheard = False
        self.refused: str | None = None
        self.seen = Seen(link)
        self.trial = CreepTrial(self.seen, wishes.turn_rpm, wishes.turn_s)
        self._typed: deque[str] = deque()
        self._nobody = False
        self._words: list[str] = []
        self._greeted = False
        self._sequence = self._all()

    @property
    def wrong(self) -> bool:
        """Whether any line says WRONG."""
        return any(line.verdict == "WRONG" for line in self.lines)

    def step(self, now_s: float, typed: Sequence[str] = (), *, nobody: bool = False) -> list[str]:
        """Go on; `nobody` says that no more lines will be typed. Words for the person."""
        self._nobody = nobody
        self._typed.extend(typed)
        self.seen.poll(now_s)
        if not self.over:
            try:
                next(self._sequence)
            except StopIteration:
                self.over = True
        words, self._words = self._words, []
        return words

    def untaken(self) -> list[str]:
        """What was typed and answered no question of this check."""
        return list(self._typed)

    def learned(self) -> BoardPlan | None:
        """What bench.toml should say of this board, targets as counted by whole turns; None if not heard."""
        if self.link.settings is None or self.link.board is None:
            return None
        plan = plan_of(self.link.settings, self.link.board.board_id)
        counted = {
            name: round(sensor.per_turn)
            for name, sensor in (
                ("table_edges_per_turn", self.seen.table),
                ("lap_edges_per_turn", self.seen.lap),
            )
            if sensor.per_turn
        }
        return plan.model_copy(update=counted)

    # The sequence

    def _all(self) -> Generator[None]:
        yield from self._board()
        if self.unheard:
            return
        self._greeted = self.link.owned
        if self._greeted:
            yield from self._watch()
            if self.wishes.sound:
                yield from self._sound()
            if self.wishes.turn:
                yield from self._turn()
        self._judge()

    def _board(self) -> Generator[None]:
        link = self.link
        yield from self.seen.until(lambda: link.owned and link.settings is not None, ANSWER_S)
        board = link.board
        if board is None:
            self.unheard = True
            heard = "something else answers" if link.frames_damaged else "no answer"
            words = f"{heard} in {ANSWER_S:g} s; check cable and power, and that the board's files are on it"
            rest = say.not_tried(("protocol version", *AFTER_BOARD), "the board was not heard")
            self.lines += [Line("board", "WRONG", words), *rest]
            return
        line = say.board_line(board, self.wishes.plan)
        if not link.owned and not link.monitor_only:
            why = refusal_sentence(self.seen.refusal("hello"))
            line = Line("board", "WRONG", f"{board.board_id}: {why}")
        self.lines += [line, say.version_line(board, link.monitor_only)]

    def _watch(self) -> Generator[None]:
        """The person moves everything by hand; counts are told every second that something changed."""
        self.seen.forget()
        yield from self.seen.pause(LISTEN_S)
        if self.wishes.seconds <= 0.0:
            return
        self._say_what_to_move()
        now_s = self.seen.now_s
        until_s, told_s, told = now_s + self.wishes.seconds, now_s, ""
        while self.seen.now_s < until_s and not self._marked():
            if self.seen.now_s - told_s >= TELL_EVERY_S:
                told_s, words = self.seen.now_s, self._counts()
                if words != told:
                    told = words
                    self._words.append(words)
            yield

    def _say_what_to_move(self) -> None:
        self._words.append(
            f"For {self.wishes.seconds:g} s, motor power off: turn table and lap by hand, press pedal and "
            "emergency stop and let them go."
        )
        if not self._nobody:
            self._words.append(
                "To count targets: type turn with a mark at the sensor, and turn again at each whole turn "
                "(lap for the lap). Type done to go on."
            )

    def _marked(self) -> bool:
        """Take what was typed while watching; True for `done`."""
        while self._typed:
            word = self._typed.popleft()
            if word == "done":
                return True
            if word in ("turn", "lap"):
                sensor = self.seen.table if word == "turn" else self.seen.lap
                sensor.mark()
                self._words.append(f"{word} {sensor.whole_turns}: {len(sensor.stamps)} targets so far")
            elif word:
                self._words.append("not known here; type turn, lap or done")
        return False

    def _counts(self) -> str:
        seen, status = self.seen, self.link.last_status
        words = f"table {len(seen.table.stamps)} targets  lap {len(seen.lap.stamps)} targets"
        if status is None:
            return words
        pedal = "pressed" if status.pedal_pressed else "let go"
        estop = "pressed" if status.estop_open else "released"
        return f"{words}  load {status.load_percent:.0f} %  pedal {pedal}  emergency stop {estop}"

    def _sound(self) -> Generator[None]:
        for pattern in ("wet_down", "end", "fault"):
            self._words.append(f"Buzzer and lamp now call: {pattern.replace('_', '-')}\a")
            self.link.call(self.seen.now_s, pattern)
            yield from self.seen.pause(SOUND_S)
        self.link.call(self.seen.now_s, "quiet")
        self._words.append("Heard and seen all three? Type yes or no.")
        yield from self.seen.until(lambda: bool(self._typed) or self._nobody, CONFIRM_S)
        answer = self._typed.popleft() if self._typed else ""
        verdicts = {
            "yes": Line("buzzer and lamp", "right", "heard and seen"),
            "no": Line("buzzer and lamp", "WRONG", "not all of them came; look at their wiring"),
        }
        untold = Line("buzzer and lamp", "not tried", "nobody said whether they came")
        self.lines.append(verdicts.get(answer, untold))

    def _turn(self) -> Generator[None]:
        if self._held() is not None:
            return
        self._words.append(
            f"The table will turn at {self.trial.rpm:g} rpm for {self.trial.measure_s:g} s, then STOP; any "
            "word stops it before. Nothing loose on it, hands clear, emergency stop within reach. "
            f"Type {CONFIRMED} to confirm."
        )
        self._typed.clear()
        yield from self.seen.until(lambda: bool(self._typed) or self._nobody, CONFIRM_S)
        if not self._typed or self._typed.popleft() != CONFIRMED:
            self.refused = (
                f"check: --turn was not confirmed, so the table was not turned; type {CONFIRMED} when asked"
            )
            self.trial.lines.append(Line("stop function", "not tried", "turning was not confirmed"))
            return
        told_s = self.seen.now_s
        for _ in self.trial.run():
            self.trial.enough |= bool(self._typed)
            if self.seen.driving and self.seen.now_s - told_s >= TELL_EVERY_S:
                told_s = self.seen.now_s
                self._words.append(self._speed())
            yield

    def _held(self) -> Line | None:
        """The line of a board that stands tripped; None where it does not."""
        status = self.link.last_status
        if status is None or status.board_state != "tripped":
            return None
        return say.held_line(status.reason or "a fault")

    def _speed(self) -> str:
        status = self.link.last_status
        if status is None:
            return "the board is not heard"
        measured = f"measured {status.table_rpm:.2f} rpm  load {status.load_percent:.0f} %"
        return f"asked {self.trial.rpm:g} rpm  {measured}"

    def _judge(self) -> None:
        seen, settings, turned = self.seen, self.link.settings, self.trial.turned
        if self.link.lost:
            self.unheard = True
            self.lines.append(Line("link", "WRONG", "the board was lost; check cable and power"))
        if settings is None or not self._greeted:
            self.lines += say.not_tried(AFTER_BOARD, "the board takes no orders from this program")
            return
        table, lap = settings.table_edges_per_turn, settings.lap_edges_per_turn
        lap_line = say.sensor_line("lap sensor", seen.lap, lap, "lap_edges_per_turn", turned)
        if not settings.lap_sensor_fitted:
            lap_line = Line("lap sensor", "not tried", "the board says that none is fitted")
        idle = fmean(seen.idle_percent) if seen.idle_percent else None
        untried = Line("stop function", "not tried", "needs --turn; the table is not turned without it")
        self.lines += [
            say.settings_line(settings, self.wishes.plan),
            say.sensor_line("table sensor", seen.table, table, "table_edges_per_turn", turned),
            lap_line,
            say.load_line(idle, turned, settings.load_limit_permille / 10.0),
            say.pedal_line(seen.pedal, seen.presses, bool(settings.pedal_fitted), turned),
            say.estop_line(seen.estop),
            *(self.trial.lines or [self._held() or untried]),
        ]
