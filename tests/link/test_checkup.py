"""The check of a bench: what it says of a sound one and of one with a fault, and what it leaves alone."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from benchctl.link.board import BoardLink
from benchctl.link.board_settings import plan_of
from benchctl.link.checkup import Checkup, Wishes
from benchctl.link.checkup_lines import Line, Sensor, Turned, load_line, sensor_line, stop_line
from benchctl.link.checkup_lines import Stopped as StoppedTable
from benchctl.models.bench_config import BoardPlan
from benchctl.simulator.simulated import SimulatedBench
from firmware_protocol import codec, messages
from firmware_protocol.settings import DEFAULTS, safe_defaults, with_value
from tests.simulator.raw_host import make_bench

STEP_S = 0.02
TABLE_EDGES, SERVICE_LOCK, CEILING = 1, 16, 3


class Stage:
    """A check of a simulated bench on stepped time; `fastest_rpm` is the plant's own."""

    def __init__(
        self, bench: SimulatedBench | None = None, *, plan: BoardPlan | None = None, **wishes: object
    ) -> None:
        self.bench = bench or make_bench()
        self.bench.advance(2.0)
        self.link = BoardLink(self.bench.transport, 77)
        self.checkup = Checkup(self.link, Wishes(plan or BoardPlan(), **wishes), "cable")  # type: ignore[arg-type]
        self.words: list[str] = []
        self.fastest_rpm = 0.0
        self.during: Callable[[float], None] = lambda elapsed_s: None

    def play(self, typed: dict[float, str] | None = None, *, nobody: bool = False) -> Stage:
        """Until it is over; `typed` are lines at seconds since the begin."""
        begin_s, waiting = self.bench.now_s, sorted((typed or {}).items())
        while not self.checkup.over:
            elapsed_s = self.bench.now_s - begin_s
            assert elapsed_s < 200.0, "the check does not end"
            self.during(elapsed_s)
            lines = []
            while waiting and waiting[0][0] <= elapsed_s:
                lines += waiting.pop(0)[1].split("\n")
            self.words += self.checkup.step(self.bench.now_s, lines, nobody=nobody)
            self.bench.advance(self.bench.now_s + STEP_S)
            self.fastest_rpm = max(self.fastest_rpm, self.bench.plant.table_rpm)
        return self

    def line(self, name: str) -> Line:
        """The line of that name."""
        return next(line for line in self.checkup.lines if line.name == name)


def by_hand(stage: Stage, targets: int, turn_s: float, turns: int, from_s: float = 2.0) -> None:
    """The person turns the table by hand: its targets pass the sensor, evenly."""
    bench = stage.bench
    passed = [0]
    zero_s = bench.now_s

    def move(elapsed_s: float) -> None:
        while passed[0] < targets * turns and elapsed_s >= from_s + (passed[0] + 0.5) * turn_s / targets:
            bench.plant.table_edges.append(zero_s + elapsed_s)
            passed[0] += 1

    stage.during = move


# Without turning


def test_a_sound_bench_untouched() -> None:
    """Nobody moves anything: nothing is wrong, what was not moved is not tried, the table rests."""
    stage = Stage(seconds=3.0).play(nobody=True)
    verdicts = {line.name: line.verdict for line in stage.checkup.lines}
    assert verdicts == {
        "port": "right",
        "board": "right",
        "protocol version": "right",
        "settings": "right",
        "table sensor": "not tried",
        "lap sensor": "not tried",
        "load": "right",
        "pedal": "not tried",
        "emergency-stop contact": "not tried",
        "stop function": "not tried",
    }
    assert not stage.checkup.wrong
    assert stage.fastest_rpm == 0.0
    assert stage.bench.board.state == "disarmed"


def test_whole_turns_by_hand_count_the_targets() -> None:
    """`turn` typed at each whole turn: the targets a turn are counted and compared with the board's."""
    stage = Stage(seconds=30.0)
    by_hand(stage, targets=24, turn_s=4.0, turns=3)
    stage.play({1.5: "turn", 6.05: "turn", 10.05: "turn", 14.05: "turn", 15.0: "done"})
    line = stage.line("table sensor")
    assert line.verdict == "right"
    assert line.words.startswith("24 targets a turn over 3 by hand")


def test_a_wrong_count_is_wrong_and_is_learned() -> None:
    """A table with 20 targets under a board that has 24 is WRONG; what is learned has the 20 counted."""
    stage = Stage(seconds=30.0)
    by_hand(stage, targets=20, turn_s=4.0, turns=2)
    stage.play({1.5: "turn", 6.05: "turn", 10.05: "turn", 11.0: "done"})
    line = stage.line("table sensor")
    assert line.verdict == "WRONG"
    assert "table_edges_per_turn" in line.words
    learned = stage.checkup.learned()
    assert learned is not None
    assert (learned.table_edges_per_turn, learned.lap_edges_per_turn) == (20, 12)
    assert learned.ceiling_rpm == 45.0


def test_counts_are_shown_while_it_is_turned() -> None:
    """The counts are told again and again while the table is turned by hand."""
    stage = Stage(seconds=8.0)
    by_hand(stage, targets=24, turn_s=4.0, turns=1)
    stage.play()
    told = [words for words in stage.words if words.startswith("table ")]
    counts = [int(words.split()[1]) for words in told]
    assert counts == sorted(set(counts))
    assert len(counts) >= 4
    assert counts[-1] == 24
    assert stage.line("table sensor").verdict == "right"


def test_pedal_and_emergency_stop_are_seen_both_ways() -> None:
    """Pedal and emergency stop pressed and let go while watching are right."""
    stage = Stage(seconds=6.0)

    def press(elapsed_s: float) -> None:
        stage.bench.board.estop_pressed = 2.0 < elapsed_s < 3.0
        if 4.0 < elapsed_s < 4.03:
            stage.bench.press_pedal()

    stage.during = press
    stage.play()
    assert stage.line("pedal").verdict == "right"
    assert stage.line("emergency-stop contact").verdict == "right"


def test_contacts_that_never_let_go_are_wrong() -> None:
    """A pedal and an emergency stop that read pressed all the time are WRONG."""
    bench = make_bench()
    bench.pedal_stuck = bench.board.estop_pressed = True
    stage = Stage(bench, seconds=1.0).play()
    assert stage.line("pedal").verdict == "WRONG"
    assert stage.line("emergency-stop contact").verdict == "WRONG"
    assert stage.checkup.wrong


def test_settings_are_compared_with_the_bench_file() -> None:
    """A board whose settings differ from bench.toml is WRONG, with the command that puts it right."""
    plan = plan_of(DEFAULTS, "simulated").model_copy(update={"ceiling_rpm": 40.0})
    line = Stage(seconds=0.5, plan=plan).play().line("settings")
    assert line.verdict == "WRONG"
    assert "ceiling is 45 rpm, bench.toml has 40 rpm" in line.words
    assert 'benchctl board settings "ceiling=40 rpm"' in line.words.replace("'", '"').replace('""', '"')


def test_another_board_is_told() -> None:
    """A board with another id than bench.toml's is WRONG."""
    line = Stage(seconds=0.5, plan=BoardPlan.model_validate({"id": "E66"})).play().line("board")
    assert line.verdict == "WRONG"
    assert "bench.toml has board E66" in line.words


def test_a_silent_port() -> None:
    """A port behind which nobody answers: board WRONG, the rest not tried, and it ends by itself."""
    stage = Stage(seconds=20.0)
    stage.bench.cable.faults.silent = True
    stage.bench.cable.to_host.clear()
    stage.play()
    assert stage.checkup.unheard
    assert stage.line("board").verdict == "WRONG"
    assert {line.verdict for line in stage.checkup.lines[2:]} == {"not tried"}


def test_a_board_of_another_program() -> None:
    """A board that another program owns is told as in use; nothing is tried on it."""
    stage = Stage(seconds=20.0)
    controller = stage.bench.board.controller
    hello = messages.Hello(messages.MAGIC, 99, messages.VERSION, messages.MINOR, codec.SCHEMA_HASH)

    def keep(elapsed_s: float) -> None:
        controller.receive(codec.encode(hello), round(stage.bench.now_s * 1000.0))
        controller.take_payloads()  # what the board says to the other program

    keep(0.0)
    stage.during = keep
    stage.play()
    assert stage.line("board").verdict == "WRONG"
    assert "in use by another program" in stage.line("board").words
    assert stage.line("stop function").verdict == "not tried"


# Turning


@pytest.fixture(scope="module")
def turned() -> Stage:
    """A sound bench, turned with the person's word."""
    return Stage(seconds=0.0, turn=True).play({1.0: "run"})


def test_a_confirmed_turn_tries_everything(turned: Stage) -> None:
    """Confirmed: targets at the asked speed, lap, load and STOP are right; it ends at rest, disarmed."""
    for name in ("table sensor", "lap sensor", "load", "stop function"):
        assert turned.line(name).verdict == "right", turned.line(name)
    assert turned.bench.plant.table_rpm == 0.0
    assert turned.bench.board.state == "disarmed"
    assert not turned.bench.board.powered


def test_another_speed_is_tried_as_asked() -> None:
    """Asked for 20 rpm the table turns at that, speeds and load are told while it turns, and all is right."""
    stage = Stage(seconds=0.0, turn=True, turn_rpm=20.0, turn_s=8.0).play({1.0: "run"})
    assert 19.5 < stage.fastest_rpm < 21.0
    assert stage.line("stop function").verdict == "right", stage.line("stop function")
    assert stage.line("table sensor").words.startswith("24.0 targets a turn at 20 rpm")
    assert "will turn at 20 rpm for 8 s" in "".join(stage.words)
    told = [words for words in stage.words if words.startswith("asked 20 rpm  measured ")]
    assert len(told) >= 8
    assert any("measured 20.0" in words or "measured 19.9" in words for words in told)


@pytest.mark.parametrize(("at_s", "sensor"), [(1.3, "not tried"), (4.0, "not tried"), (15.0, "right")])
def test_any_word_stops_the_table(at_s: float, sensor: str) -> None:
    """Whatever is typed while it turns is a STOP at once; what was seen till then is told."""
    stage = Stage(seconds=0.0, turn=True, turn_s=100.0).play({1.0: "run", at_s: "halt"})
    assert stage.bench.now_s < 2.0 + at_s + 6.0
    assert stage.bench.plant.table_rpm == 0.0
    assert stage.line("table sensor").verdict == sensor
    assert not stage.checkup.wrong


def test_a_speed_over_the_boards_ceiling_is_refused_by_the_board() -> None:
    """The board's stored ceiling holds for the check as well: nothing turns, and the line says why."""
    stage = Stage(seconds=0.0, turn=True, turn_rpm=50.0).play({1.0: "run"})
    assert stage.fastest_rpm == 0.0
    assert "above its ceiling" in stage.line("stop function").words


def test_the_table_creeps_only(turned: Stage) -> None:
    """The table is never turned faster than creep and a tenth; the board was armed for 10 rpm at most."""
    assert 4.9 < turned.fastest_rpm < 5.5
    assert turned.bench.board.controller.motion._ceiling == 10_000


@pytest.mark.parametrize("answer", ["", "yes", "turn", "Run it"])
def test_no_confirmation_no_motion(answer: str) -> None:
    """Without the word `run` the table is not turned, whatever else is typed, and the check says so."""
    stage = Stage(seconds=0.0, turn=True).play({1.0: answer} if answer else {}, nobody=not answer)
    assert stage.fastest_rpm == 0.0
    assert stage.checkup.refused is not None
    assert stage.line("stop function").verdict == "not tried"


def test_what_was_typed_before_the_question_confirms_nothing() -> None:
    """`run` typed while the table was still turned by hand, or pasted, is no answer to the question."""
    stage = Stage(seconds=4.0, turn=True).play({2.0: "run", 3.0: "done\nrun"}, nobody=True)
    assert "not known here; type turn, lap or done" in stage.words
    assert stage.checkup.refused is not None
    assert stage.fastest_rpm == 0.0


def test_a_run_that_nobody_answers_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """The board turns and its answer is lost on the way: the check says so, and STOP has gone out."""
    stage = Stage(seconds=0.0, turn=True)
    bench, say = stage.bench, stage.bench.cable.board_writes
    monkeypatch.setattr(
        bench.cable, "board_writes", lambda data: None if bench.board.state == "running" else say(data)
    )
    stage.play({1.0: "run"})
    assert "did not answer" in stage.line("stop function").words
    for _ in range(100):
        stage.checkup.seen.poll(bench.now_s)
        bench.advance(bench.now_s + STEP_S)
    assert bench.plant.table_rpm == 0.0
    assert bench.board.state == "disarmed", "stopped by the host, not by its silence"


def test_left_in_the_middle_it_stops() -> None:
    """A check that is left while the table creeps sends STOP: the board's reason is the person's stop."""
    stage = Stage(seconds=0.0, turn=True)
    begin_s, answers = stage.bench.now_s, ["run"]
    while stage.bench.plant.table_rpm < 4.5:
        typed = [answers.pop()] if stage.words and answers else []
        stage.words += stage.checkup.step(stage.bench.now_s, typed)
        stage.bench.advance(stage.bench.now_s + STEP_S)
        assert stage.bench.now_s < begin_s + 20.0
    stage.checkup.trial.abandon()
    left_s = stage.bench.now_s
    while stage.bench.plant.table_rpm > 0.0 and stage.bench.now_s < left_s + 3.0:
        stage.checkup.seen.poll(stage.bench.now_s)
        stage.bench.advance(stage.bench.now_s + STEP_S)
    assert stage.bench.now_s - left_s < 0.6, "the ramp from 5 rpm takes 0.26 s"
    stage.checkup.seen.poll(stage.bench.now_s)
    status = stage.link.last_status
    assert status is not None
    assert status.reason == "host_stop"


@pytest.mark.parametrize(
    ("mishap", "name", "words"),
    [
        ("table-sensor-dead@0", "stop function", "the board stopped it: table sensor dead"),
        ("estop@6", "stop function", "the board stopped it: estop open"),
        ("cable-out@8", "stop function", "the link was lost"),
    ],
)
def test_faults_while_turning_are_told(mishap: str, name: str, words: str) -> None:
    """A fault while the table creeps makes the check say what stopped it, and that it is WRONG."""
    stage = Stage(make_bench(mishap), seconds=0.0, turn=True).play({1.0: "run"})
    line = stage.line(name)
    assert line.verdict == "WRONG"
    assert words in line.words
    assert stage.bench.plant.table_rpm < 5.5


def test_a_stop_by_the_board_blames_no_sensor_but_its_own() -> None:
    """Stopped for the emergency stop after seconds, nothing is said of targets; for a dead sensor, it is."""
    early = Stage(make_bench("estop@6"), seconds=0.0, turn=True).play({1.0: "run"})
    assert early.line("table sensor").verdict == "not tried"
    dead = Stage(make_bench("table-sensor-dead@25"), seconds=0.0, turn=True, turn_s=60.0).play({1.0: "run"})
    assert "table sensor dead" in dead.line("stop function").words
    assert dead.line("table sensor").verdict == "WRONG"


def test_the_pedal_held_while_turning_is_no_fault() -> None:
    """The person stops the table by the pedal: nothing is WRONG, the stop function was not tried."""
    stage = Stage(seconds=0.0, turn=True)

    def hold(elapsed_s: float) -> None:
        stage.bench.pedal_stuck = 8.0 < elapsed_s < 9.5

    stage.during = hold
    stage.play({1.0: "run"})
    assert stage.line("pedal") == Line("pedal", "right", "held down, it stopped the table")
    assert stage.line("stop function").verdict == "not tried"
    assert not stage.checkup.wrong
    assert stage.bench.plant.table_rpm == 0.0


@pytest.mark.parametrize("turn", [False, True])
def test_a_fault_the_board_holds_is_told(turn: bool) -> None:
    """A board that is tripped: the check names the stop and the command that resets it."""
    bench = make_bench("pedal-stuck@0")
    bench.advance(12.0)
    assert bench.board.state == "tripped"
    bench.pedal_stuck = False
    bench.forget_mishaps()
    line = Stage(bench, seconds=0.0, turn=turn).play({13.0: "run"} if turn else {}).line("stop function")
    assert line.verdict == "WRONG"
    assert "pedal stuck" in line.words
    assert "benchctl board reset" in line.words


def test_a_locked_board_is_not_turned() -> None:
    """A board on safe defaults is locked: the check says so, and how to unlock it; nothing turns."""
    bench = make_bench()
    bench.board.settings = with_value(safe_defaults(), TABLE_EDGES, 24)
    bench.board.restart(0, 0.0)
    stage = Stage(bench, seconds=0.0, turn=True).play({2.0: "run"})
    assert stage.line("settings").verdict == "WRONG"
    assert "locked" in stage.line("stop function").words
    assert stage.fastest_rpm == 0.0


def test_targets_that_do_not_fit_the_speed() -> None:
    """A board told 20 targets on a table with 24: at creep the count does not fit the asked speed, WRONG."""
    bench = make_bench()
    bench.board.settings = with_value(bench.board.settings, TABLE_EDGES, 20)
    bench.board.restart(0, 0.0)
    line = Stage(bench, seconds=0.0, turn=True).play({1.0: "run"}).line("table sensor")
    assert line.verdict == "WRONG"
    assert "the board has 20" in line.words


def test_buzzer_and_lamp() -> None:
    """With sound asked for, the board calls wet-down, end, fault, then is quiet; the person judges."""
    stage = Stage(seconds=0.0, sound=True)
    heard: list[str] = []

    def listen(elapsed_s: float) -> None:
        if not heard or heard[-1] != stage.bench.board.call:
            heard.append(stage.bench.board.call)

    stage.during = listen
    stage.play({9.5: "no"})
    assert heard == ["none", "wet_down", "end", "fault", "none"]
    assert stage.line("buzzer and lamp").verdict == "WRONG"


# Single lines


def test_humming_is_not_a_hand() -> None:
    """Edges at mains frequency are told as noise: 50 a second on 24 targets would be 125 rpm."""
    hum = Sensor(stamps=[n / 50.0 for n in range(40)])
    assert sensor_line("table sensor", hum, 24, "table_edges_per_turn", None).verdict == "WRONG"
    hand = Sensor(stamps=[n / 24.0 for n in range(40)])
    assert sensor_line("table sensor", hand, 24, "table_edges_per_turn", None).verdict == "right"


@pytest.mark.parametrize(
    ("last_s", "off_s", "verdict"), [(0.3, 1.0, "right"), (0.8, 1.0, "WRONG"), (0.1, None, "WRONG")]
)
def test_time_to_rest(last_s: float, off_s: float | None, verdict: str) -> None:
    """Rest within the ramp's time and a margin, and power off: right; later, or power that stays: WRONG."""
    assert stop_line(StoppedTable(last_s, off_s, 0.56), 24, 5.0).verdict == verdict


@pytest.mark.parametrize(
    ("idle", "driven", "verdict"),
    [(0.4, 20.0, "right"), (0.4, 0.5, "WRONG"), (15.0, 40.0, "WRONG"), (0.4, 90.0, "WRONG")],
)
def test_load_must_move(idle: float, driven: float, verdict: str) -> None:
    """A load that stands high with the motor off, does not move with it, or is over the limit is WRONG."""
    assert load_line(idle, Turned(5.0, 2.0, 0, driven, idle), 85.0).verdict == verdict
