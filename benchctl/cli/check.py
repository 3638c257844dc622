"""`benchctl check`: port, board, sensors, contacts and the stop function, line by line."""

from __future__ import annotations

import argparse
import json
import math
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from benchctl.assembly.typed import TypedLines
    from benchctl.link.checkup import Checkup, Wishes
    from benchctl.link.checkup_lines import Line
    from benchctl.models.bench_config import BenchConfig

DESCRIPTION = """\
Says line by line what is right, what is WRONG and what to do. Without --turn the table is never turned by
the motor: the counts are shown while you turn table and lap by hand. With --turn the bare table creeps at
5 rpm after you have typed 'run' at the question, any word stops it, and the time to rest after STOP is
measured.
Exit status: 0 nothing is wrong, 2 turning was not confirmed, 3 something is wrong, 4 the port or the board
does not answer. Nothing here is a safety-rated function: try the emergency stop yourself."""
STEP_S = 0.02
LEAVE_S = 3.0
LONGEST_WATCH_S = 600.0
BY_HAND_S = 20.0
SHORTEST_TURNING_S = 5.0
ANSWER_S = 120.0
COMPUTER_SOUND = "computer's sound"


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "check",
        help="check board, sensors and stop function, line by line",
        description=DESCRIPTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--port", metavar="PORT", help="path or USB id; that of bench.toml by default")
    parser.add_argument("--turn", action="store_true", help="let the table creep, once you have typed 'run'")
    parser.add_argument("--rpm", type=float, metavar="R", help="with --turn: another speed than 5 rpm")
    parser.add_argument("--for", type=float, dest="turn_s", metavar="S", help="with --turn: how long (15)")
    parser.add_argument("--learn", action="store_true", help="write what was found to bench.toml")
    parser.add_argument("--sound", action="store_true", help="let buzzer, lamp and this computer call")
    parser.add_argument("--record", metavar="FILE", help="keep all bytes of the wire in FILE")
    parser.add_argument(
        "--seconds", type=float, metavar="S", help="how long to watch by hand (20; with --turn 0)"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a line")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Check; exit status as in the description."""
    from benchctl.assembly.ports import open_port
    from benchctl.assembly.typed import TypedLines
    from benchctl.assembly.visit import new_link, port_asked
    from benchctl.errors import BadInput, LinkError
    from benchctl.link.checkup import AFTER_BOARD, Checkup
    from benchctl.link.checkup_lines import Line, not_tried
    from benchctl.link.recording import ended_early
    from benchctl.models.bench_config import configured_bench

    bench = configured_bench()
    wishes = _wishes(args, bench)
    asked = port_asked(args.port)
    try:
        transport, warning = open_port(asked, args.record)
    except LinkError as error:
        rest = ("board", "protocol version", *AFTER_BOARD)
        _print([Line("port", "WRONG", str(error)), *not_tried(rest, "the port is not open")], args.json)
        return 4
    if warning:
        print(warning, file=sys.stderr)
    checkup, typed = Checkup(new_link(transport), wishes, asked), TypedLines(sys.stdin)
    try:
        printed = _go_through(checkup, typed, args.json)
    finally:
        transport.close()
    if trouble := ended_early(transport):
        print(trouble, file=sys.stderr)
    if args.sound:
        checkup.lines.append(_computer_sound(checkup.untaken(), typed))
    _print(checkup.lines[printed:], args.json)
    if args.learn and not checkup.unheard:
        _learn(checkup, bench, asked, args.json)
    if checkup.unheard:
        return 4
    if checkup.refused is not None:
        raise BadInput(checkup.refused)
    return 3 if checkup.wrong else 0


def _wishes(args: argparse.Namespace, bench: BenchConfig | None) -> Wishes:
    from benchctl.errors import BadInput
    from benchctl.link.checkup import Wishes
    from benchctl.models.bench_config import BoardPlan

    seconds = args.seconds if args.seconds is not None else (0.0 if args.turn else BY_HAND_S)
    if not (math.isfinite(seconds) and 0.0 <= seconds <= LONGEST_WATCH_S):
        raise BadInput(
            f"check: --seconds {seconds:g} is not a time to watch; give 0 to {LONGEST_WATCH_S:g} seconds"
        )
    plan = BoardPlan() if bench is None or args.learn else bench.board
    rpm, turn_s = _turning_asked(args)
    return Wishes(plan, seconds, turn=args.turn, turn_rpm=rpm, turn_s=turn_s, sound=args.sound)


def _turning_asked(args: argparse.Namespace) -> tuple[float, float]:
    """Speed and time of --turn. BadInput where they are out of range, or given without it."""
    from benchctl.errors import BadInput
    from benchctl.link.creep_trial import CREEP_RPM, MEASURE_S
    from benchctl.models.recipe import HARD_CEILING_RPM, LOWEST_RPM

    if not args.turn and (args.rpm is not None or args.turn_s is not None):
        raise BadInput("check: --rpm and --for go with --turn; add --turn, or leave them out")
    rpm = CREEP_RPM if args.rpm is None else args.rpm
    turn_s = MEASURE_S if args.turn_s is None else args.turn_s
    if not LOWEST_RPM <= rpm <= HARD_CEILING_RPM:
        raise BadInput(f"check: --rpm {rpm:g} is outside {LOWEST_RPM:g} to {HARD_CEILING_RPM:g} rpm")
    if not SHORTEST_TURNING_S <= turn_s <= LONGEST_WATCH_S:
        raise BadInput(f"check: --for {turn_s:g} is outside {SHORTEST_TURNING_S:g} to {LONGEST_WATCH_S:g} s")
    return rpm, turn_s


def _go_through(checkup: Checkup, typed: TypedLines, as_json: bool) -> int:
    """Step the check in life's time until it is over or a signal ends it; how many lines were printed."""
    from benchctl.assembly.headless import stop_on_signals
    from benchctl.clock import SystemClock

    clock, printed = SystemClock(), 0
    with stop_on_signals(lambda: None) as came:
        while not checkup.over and not came.is_set():
            lines = typed.take()
            for words in checkup.step(clock.monotonic_s(), lines, nobody=typed.ended):
                print(words, file=sys.stderr, flush=True)
            _print(checkup.lines[printed:], as_json)
            printed = len(checkup.lines)
            clock.sleep(STEP_S)
        driven = checkup.seen.driving
        checkup.trial.abandon()
        leave_s = clock.monotonic_s() + LEAVE_S
        while not checkup.over and clock.monotonic_s() < leave_s and _turning(checkup):
            checkup.seen.poll(clock.monotonic_s())
            clock.sleep(STEP_S)
    if came.is_set():
        if driven:
            rest = "look at the table, it may still turn" if _turning(checkup) else "the board has obeyed it"
            print(f"check: ended before its time; STOP was sent, and {rest}", file=sys.stderr)
        raise KeyboardInterrupt
    return printed


def _computer_sound(answers: list[str], typed: TypedLines) -> Line:
    """Every call from this computer's loudspeaker; `answers` were typed ahead. No device is but a warning."""
    from benchctl.clock import SystemClock
    from benchctl.link.checkup_lines import Line
    from benchctl.tui.sound import try_sounds

    told: list[str] = []
    heard = try_sounds(told.append)
    for words in told:
        print(words, file=sys.stderr, flush=True)
    if not heard:
        why = next((words for words in told if "not played" in words), "no sound could be played")
        return Line(COMPUTER_SOUND, "not tried", f"warning: {why}; the board's buzzer calls without it")
    print("Heard the tones from this computer? Type yes or no.", file=sys.stderr, flush=True)
    clock = SystemClock()
    until_s, answers = clock.monotonic_s() + ANSWER_S, [*answers, *typed.take()]
    while not answers and not typed.ended and clock.monotonic_s() < until_s:
        clock.sleep(STEP_S)
        answers = typed.take()
    verdicts = {
        "yes": Line(COMPUTER_SOUND, "right", "heard"),
        "no": Line(COMPUTER_SOUND, "WRONG", "played but not heard; look at its volume and its loudspeaker"),
    }
    untold = Line(COMPUTER_SOUND, "not tried", "played; nobody said whether it was heard")
    return verdicts.get(answers[0] if answers else "", untold)


def _turning(checkup: Checkup) -> bool:
    status = checkup.link.last_status
    return status is not None and status.board_state in ("armed", "running", "slowing")


def _print(lines: list[Line], as_json: bool) -> None:
    for line in lines:
        print(json.dumps(line._asdict()) if as_json else f"{line.name:23} {line.verdict:10} {line.words}")
    sys.stdout.flush()


def _learn(checkup: Checkup, bench: BenchConfig | None, asked: str, as_json: bool) -> None:
    """Write bench.toml: the port by its USB id where it has one, and what the board has stored."""
    from benchctl.link.ports import lasting_name
    from benchctl.models.bench_config import BenchConfig, as_toml, keep_bench

    plan = checkup.learned()
    if plan is None:
        print("bench.toml was not written: the board has not told its settings", file=sys.stderr)
        return
    found = BenchConfig(
        port=lasting_name(asked),
        job=None if bench is None else bench.job,
        board=plan,
        pins=None if bench is None else bench.pins,
    )
    path = keep_bench(found)
    print(f"written to {path}:\n{as_toml(found)}", file=sys.stderr if as_json else sys.stdout, end="")
