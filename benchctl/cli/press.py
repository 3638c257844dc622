"""`benchctl press`: a cold press with its timer, calls and record, without the screen."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchctl.cli.telling import Teller

if TYPE_CHECKING:
    from benchctl.assembly.pressed import PressBench
    from benchctl.models.job import Job
    from benchctl.press.case import PressCase

CALL_AGAIN_S = 15.0
LINE_EVERY_S = 60.0
WORDS = """\
while it runs, type: shifted (s), wetted (w), lifted (l), end (e), temperature 21 degC, note TEXT.
The press goes on whatever is typed; end it with 'end' once the lap is off the glass.
The table is not to turn during a press: this command opens no port.

exit status: 0 pressed for its time, 2 refused input, 3 ended early or nobody took the lap off"""
SHORT = {"s": "shifted", "w": "wetted", "l": "lifted", "e": "end"}


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "press",
        help="time a cold press: shift, water, end",
        description="Times a cold press, calls for shift and water, and keeps its record.",
        epilog=WORDS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("job", metavar="JOB.toml", help="the mirror's file; 'demo' for the one shipped")
    parser.add_argument("--minutes", type=float, metavar="M", help="how long (as the file says)")
    parser.add_argument(
        "--load", metavar="MASS", help="weights on the lap, such as '9 kg' (as the file says)"
    )
    parser.add_argument(
        "--temperature", metavar="T", help="of the room, such as '21 degC' (as the file says)"
    )
    parser.add_argument("--logbook", metavar="FOLDER", help="where the record goes (the one the file names)")
    parser.add_argument(
        "--pace", choices=("live", "max"), default="live", help="max: in simulated time, as a rehearsal"
    )
    parser.add_argument(
        "--operator",
        choices=("attentive", "slow", "absent"),
        default="attentive",
        help="with --pace max, who answers the calls",
    )
    parser.add_argument("--json", action="store_true", help="events and record as JSON, one a line")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit status of one press."""
    from benchctl.assembly.places import logbook_folder
    from benchctl.assembly.pressed import build_press, run_stepped
    from benchctl.models.job import read_job
    from benchctl.models.preferences import preferences

    job = read_job(Path(args.job))
    case, room_c = _case(job, args), _temperature(job, args)
    stepped = args.pace == "max"
    system = preferences(args.units).units
    teller = Teller(as_json=args.json, system=system)
    folder = logbook_folder(args.logbook, simulated=stepped, job=job)
    bench = build_press(job, case, folder, room_c=room_c, stepped=stepped, system=system, listen=teller.take)
    try:
        if bench.recovered:
            teller.say(f"▲ {bench.recovered}")
        _say_first(job, case, room_c, system, teller)
        if stepped:
            run_stepped(bench, args.operator)
        else:
            _live(bench, teller)
    finally:
        teller.flush()
        unkept = bench.close()
    return _finish(bench, teller, folder, unkept, as_json=args.json)


def _case(job: Job, args: argparse.Namespace) -> PressCase:
    from benchctl.press.case import press_case
    from benchctl.units import MASS, read

    load_kg = None if args.load is None else read(args.load, MASS)
    return press_case(job, None if args.minutes is None else args.minutes * 60.0, load_kg)


def _temperature(job: Job, args: argparse.Namespace) -> float:
    from benchctl.models.one_field import check_one
    from benchctl.models.setup import Room
    from benchctl.units import TEMPERATURE, read

    if args.temperature is None:
        return job.room.temperature_c
    check_one(Room, "temperature", args.temperature)
    return read(args.temperature, TEMPERATURE)


def _say_first(job: Job, case: PressCase, room_c: float, system: str, teller: Teller) -> None:
    """What is to be done, and the estimate of how far the pitch will flow."""
    from benchctl.planner.settling import settling_range_m
    from benchctl.units import LENGTH, MASS, TEMPERATURE, printable, show

    load, place = show(case.load_kg, MASS, system), show(case.first_place_m, LENGTH, system)
    teller.say(
        f"Cold press of {printable(case.lap)} on {printable(case.mirror)}: {case.length_s / 60:g} min, "
        f"{load} of weights, lap {place} from the mirror's centre, {show(room_c, TEMPERATURE, system)}."
    )
    if case.shift_at_s is not None:
        teller.say(
            f"The lap lies {case.why_shift}: at {case.shift_at_s / 60:g} min slide it by "
            f"{show(case.shift_by_m, LENGTH, system)} and turn it a quarter."
        )
    flowed = settling_range_m(job, case.load_n, case.length_s, room_c)
    if flowed is not None:
        teller.say(
            f"A facet may settle by {flowed[0] * 1e6:.0f} to {flowed[1] * 1e6:.0f} um: an estimate from "
            "squeeze flow; medium pitch, its viscosity known within five times at best."
        )
    teller.say("Wet and charge the glass first. Wet the lap's edge whenever it is called.")


def _live(bench: PressBench, teller: Teller) -> None:
    """In life's time, with a person who types; a signal ends the press, and that is kept."""
    from benchctl.assembly.headless import stop_on_signals
    from benchctl.assembly.pressed import LOOK_EVERY_S
    from benchctl.assembly.typed import TypedLines

    typed, face = TypedLines(sys.stdin), _Face(bench, teller)
    with stop_on_signals(lambda: None) as came:
        while bench.pressing.active:
            if came.is_set():
                bench.pressing.abandon(bench.now_s())
            for line in typed.take():
                face.take(line)
            bench.step()
            teller.flush()
            face.look()
            bench.clock.sleep(LOOK_EVERY_S)


class _Face:
    """Lines for the person: what is left, what is called; a bell with each call."""

    def __init__(self, bench: PressBench, teller: Teller) -> None:
        self._bench, self._teller = bench, teller
        self._said_s = bench.now_s()
        self._called: tuple[str, float] | None = None

    def take(self, line: str) -> None:
        """A typed line."""
        from benchctl.errors import BadInput

        try:
            reply = self._bench.pressing.say(SHORT.get(line, line), self._bench.now_s())
        except BadInput as refusal:
            reply = str(refusal)
        if reply:
            self._teller.say(reply)

    def look(self) -> None:
        """Say what is due to be said."""
        now_s, pressing = self._bench.now_s(), self._bench.pressing
        call = pressing.call(now_s)
        if call is None:
            self._called = None
        elif self._called is None or self._called[0] != call.title or now_s - self._called[1] >= CALL_AGAIN_S:
            self._called = (call.title, now_s)
            bell = "\a" if sys.stderr.isatty() else ""
            self._teller.say(f"{bell}*** {call.title}. {call.do}. ***")
        if call is None and now_s - self._said_s >= LINE_EVERY_S:
            self._said_s = now_s
            view = pressing.view(now_s)
            self._teller.say(f"{view.left_s / 60:5.1f} min, then: {view.next_what}")


def _finish(bench: PressBench, teller: Teller, folder: Path, unkept: int, *, as_json: bool) -> int:
    record = bench.pressing.record
    if unkept:
        teller.say(f"{unkept} record(s) could not be written to {folder}; they are printed only")
    if record is None:
        return 3
    if as_json:
        print(json.dumps(record.model_dump(mode="json"), allow_nan=False))
        sys.stdout.flush()
    ended = {
        "completed": "Press done",
        "ended_early": "Press ended early; if the lap is still on the glass, wet its edge and slide it off",
        "not_lifted": "Nobody took the lap off: wet its edge, wait until it slides",
    }
    teller.say(
        f"{ended[record.outcome]}: {record.first_place_s / 60:.1f} min at the first place, "
        f"{record.second_place_s / 60:.1f} min at the second; kept in {folder}"
    )
    return 0 if record.outcome == "completed" else 3
