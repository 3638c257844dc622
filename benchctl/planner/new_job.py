"""The questions from which a mirror's file is made, each with a default, and the file itself. Pure.

A default is a place to begin: usual practice of the trade (no source), or worked out from the answers before
it. Answers are kept as they were typed, so the file shows the units that the person chose.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator
from typing import Literal, NamedTuple, get_args

from benchctl import units
from benchctl.errors import BadInput
from benchctl.models.job import Job, Marks, parse_job
from benchctl.models.lap import Lap
from benchctl.models.mirror import Glass, Mirror
from benchctl.models.one_field import check_one
from benchctl.models.quantities import Record
from benchctl.models.recipe import PressPlan, SegmentPlan
from benchctl.models.setup import STANDARD_GRAVITY_M_S2, Room, Setup
from benchctl.planner.case_of import case_of
from benchctl.planner.sweet_spot import best_offsets

USUAL_PRESSURE_PA = 2500.0
"""Weight of lap and weights over the whole lap: hobby laps on a fixed post 1.5 to 4 kPa (common practice)."""
USUAL_RUBBING_M_S = 0.35
"""0.2 to 0.5 m/s is usual for pitch at this size (common practice)."""
LAP_OF_MIRROR = 0.68
"""60 to 80 per cent of the mirror's diameter (common practice)."""
PRESS_OF_WEIGHTS = 0.65
BASE_KG_M3, PITCH_KG_M3 = 1300.0, 1080.0
"""Plaster between dry and wet, and pitch (from memory)."""

Kind = Literal["quantity", "text", "number", "whole", "yes or no", "weights"]
_PIECES = re.compile(r"\s*(?:(\d{1,2})\s*[x×*]\s*)?([^,+]+?)\s*")
_MODELS: dict[str, type[Record]] = {
    "mirror": Mirror,
    "lap": Lap,
    "setup": Setup,
    "segment": SegmentPlan,
    "press": PressPlan,
    "room": Room,
    "marks": Marks,
}


class Question(NamedTuple):
    """One question: the field of the file it fills, its words, its default (None: it must be answered)."""

    name: str
    asks: str
    default: Callable[[JobSheet], str] | str | None
    kind: Kind = "quantity"
    choices: tuple[str, ...] = ()

    def offered(self, sheet: JobSheet) -> str | None:
        """The default as it stands after the answers so far."""
        return self.default(sheet) if callable(self.default) else self.default


class JobSheet:
    """The answers so far, as typed, by the name of the field: `mirror.diameter`; finished laps apart."""

    def __init__(self, system: str = units.METRIC) -> None:
        self.system = system
        self.answers: dict[str, str] = {}
        self.laps: list[dict[str, str]] = []

    def take(self, question: Question, text: str) -> None:
        """Take an answer. BadInput where it could not stand in the file."""
        text = text.strip()
        if question.choices and text not in question.choices:
            raise BadInput(f"'{units.printable(text)}' is not known; answer {' or '.join(question.choices)}")
        if question.name == "lap.name" and text in (one["lap.name"] for one in self.laps):
            raise BadInput(f"there is a lap '{units.printable(text)}' already; give this one another name")
        part, _, key = question.name.partition(".")
        if part in _MODELS:
            check_one(_MODELS[part], key, _value(question.kind, text))
        self.answers[question.name] = text

    def end_lap(self) -> None:
        """The questions of one lap are answered."""
        self.laps.append({name: text for name, text in self.answers.items() if name.startswith("lap.")})

    def length_m(self, name: str) -> float:
        """The length that was answered to a question, in metres."""
        return units.read(self.answers[name], units.LENGTH)

    def mass_kg(self, name: str) -> float:
        """The mass that was answered to a question, in kilograms."""
        return units.read(self.answers[name], units.MASS)

    def job(self) -> Job:
        """The whole job. BadInput where two answers do not go together."""
        return parse_job(job_text(self).encode(), "these answers")


def questions(sheet: JobSheet) -> Iterator[Question]:
    """The questions in their order; which come depends on the answers already on the sheet."""
    yield from _MIRROR
    yield from _lap(sheet)
    yield from _SETUP
    yield from _WORK
    yield Question("logbook", "Folder of this mirror's logbook", logbook_name, "text")


def _lap(sheet: JobSheet) -> Iterator[Question]:
    sheet.answers["more"] = "yes"
    while sheet.answers["more"] == "yes":
        yield Question("lap.name", "Name of the lap", f"lap {len(sheet.laps) + 1}", "text")
        yield from _LAP
        sheet.end_lap()
        yield Question("more", "Another lap", "no", "yes or no", ("yes", "no"))
    if len(sheet.laps) > 1:
        names = tuple(one["lap.name"] for one in sheet.laps)
        yield Question("setup.lap", "Lap in use", names[0], "text", names)
        chosen = next(one for one in sheet.laps if one["lap.name"] == sheet.answers["setup.lap"])
        sheet.answers |= chosen


def file_name(mirror: str) -> str:
    """A mirror's name as the beginning of a file's name: "Bench demo 460" gives bench-demo-460."""
    return re.sub(r"[^a-z0-9]+", "-", mirror.lower()).strip("-")[:60] or "mirror"


def logbook_name(sheet: JobSheet) -> str:
    """Where the logbook goes: a folder of its own for each mirror, beside the file."""
    return f"{file_name(sheet.answers['mirror.name'])}-logbook"


def _length(sheet: JobSheet, value_m: float, step_mm: float = 1.0) -> str:
    if sheet.system == units.INCH:
        return f"{round(units.in_system(value_m, units.LENGTH, units.INCH) * 8) / 8:g} in"
    return units.show(round(value_m * 1000 / step_mm) * step_mm / 1000, units.LENGTH)


def _mass(sheet: JobSheet, value_kg: float) -> str:
    return units.show(max(0.1, value_kg), units.MASS, sheet.system)


def _lap_area_m2(sheet: JobSheet) -> float:
    return math.pi * sheet.length_m("lap.diameter") ** 2 / 4


def _lap_mass(sheet: JobSheet) -> str:
    base, pitch = sheet.length_m("lap.base_thickness"), sheet.length_m("lap.pitch_thickness")
    return _mass(sheet, _lap_area_m2(sheet) * (base * BASE_KG_M3 + pitch * PITCH_KG_M3))


def _weights(sheet: JobSheet) -> str:
    """As many of one usual size as bring lap and weights to the usual pressure."""
    wanted = USUAL_PRESSURE_PA * _lap_area_m2(sheet) / STANDARD_GRAVITY_M_S2 - sheet.mass_kg("lap.mass")
    piece, words = (2.26796185, "5 lb") if sheet.system == units.INCH else (2.5, "2.5 kg")
    count = min(20, round(wanted / piece))
    return f"{count} x {words}" if count > 0 else "none"


def _offset(sheet: JobSheet) -> str:
    """The neutral offset of the mechanics; half the mirror's radius where there is none."""
    middle = sheet.length_m("mirror.diameter") / 4
    trial, rest = JobSheet(), ("setup.post_offset", "segment.work_speed", "segment.length")
    trial.laps = sheet.laps
    trial.answers = sheet.answers | dict(zip(rest, (f"{middle:.4f} m", "10 rpm", "16 min"), strict=True))
    neutral = best_offsets(case_of(trial.job())).neutral
    return _length(sheet, middle if neutral is None else neutral.offset_m)


def _speed(sheet: JobSheet) -> str:
    turns = USUAL_RUBBING_M_S / max(0.01, sheet.length_m("setup.post_offset")) / (2 * math.pi) * 60
    return f"{min(30, max(6, round(turns)))} rpm"


def _press_load(sheet: JobSheet) -> str:
    total_kg = sum(units.read(one, units.MASS) for one in pieces(sheet.answers["setup.weights"]))
    return _mass(sheet, PRESS_OF_WEIGHTS * total_kg if total_kg else sheet.mass_kg("lap.mass"))


def _sized(metric: str, inch: str) -> Callable[[JobSheet], str]:
    return lambda sheet: inch if sheet.system == units.INCH else metric


_MIRROR = (
    Question("mirror.name", "Name of the mirror", None, "text"),
    Question("mirror.diameter", "Its diameter", None),
    Question("mirror.focal_ratio", "Its focal ratio, such as 5.6 or f/5.6", None, "number"),
    Question("mirror.glass", "Its glass", "borosilicate 3.3", "text", get_args(Glass)),
    Question(
        "mirror.edge_thickness",
        "Thickness at the edge",
        lambda sheet: _length(sheet, sheet.length_m("mirror.diameter") / 10),
    ),
    Question("mirror.hole_diameter", "Diameter of its hole", _sized("0 mm", "0 in")),
    Question("mirror.last_abrasive", "Size of the last abrasive", "5 um"),
)
_LAP = (
    Question(
        "lap.diameter",
        "Diameter of the lap",
        lambda sheet: _length(sheet, LAP_OF_MIRROR * sheet.length_m("mirror.diameter"), 5.0),
    ),
    Question("lap.base_thickness", "Thickness of its base", _sized("30 mm", "1.25 in")),
    Question("lap.pitch", "Its pitch", "medium", "text"),
    Question("lap.pitch_thickness", "Thickness of the pitch", _sized("6 mm", "0.25 in")),
    Question("lap.facet", "Width of a facet", _sized("25 mm", "1 in")),
    Question("lap.channel", "Width of a channel", _sized("3 mm", "0.125 in")),
    Question("lap.drive_point_height", "Drive point above the pitch", _sized("40 mm", "1.5 in")),
    Question("lap.mass", "Mass of the lap", _lap_mass),
)
_SETUP = (
    Question("setup.weights", "Weights on the lap, such as 4 x 2.5 kg, 2 kg", _weights, "weights"),
    Question("setup.weights_captured", "Are they held so that none can slide", "yes", "yes or no"),
    Question(
        "setup.weights_radius",
        "How far they stand from the lap's centre",
        lambda sheet: _length(sheet, sheet.length_m("lap.diameter") / 5, 5.0),
    ),
    Question("setup.post_offset", "Post offset from the mirror's axis", _offset),
)
_WORK = (
    Question("segment.work_speed", "Working speed of the table", _speed),
    Question("segment.length", "Length of a segment", "16 min"),
    Question("press.length", "Length of a cold press", "20 min"),
    Question("press.load", "Weights on the lap for the press", _press_load),
    Question("room.temperature", "Room temperature", _sized("20 degC", "68 degF")),
    Question("room.humidity", "Room humidity", "50 %"),
    Question("marks.count", "Marks on the rim (11 or 13 spread best)", "13", "whole"),
    Question("marks.draw", "Draw of the marks", "balanced", "text", ("balanced", "plain")),
)


def pieces(text: str) -> list[str]:
    """Weights as typed, "4 x 2.5 kg, 2 kg" or "none", piece by piece. BadInput where it cannot be read."""
    if text.strip().lower() in ("none", "0", ""):
        return []
    found: list[str] = []
    for part in re.split(r"[,+]", text):
        match = _PIECES.fullmatch(part)
        if match is None:
            raise BadInput(
                f"'{units.printable(text)}' are no weights; write them such as 4 x 2.5 kg, 2 kg, or none"
            )
        found += [match[2]] * int(match[1] or 1)
    return found


def _value(kind: Kind, text: str) -> object:
    """What a typed answer is in the file. BadInput where it is not of its kind."""
    if kind == "weights":
        return pieces(text)
    if kind == "yes or no":
        if text.lower() not in ("yes", "y", "no", "n"):
            raise BadInput(f"'{units.printable(text)}' is neither yes nor no")
        return text.lower() in ("yes", "y")
    if kind in ("number", "whole"):
        digits = text.lower().removeprefix("f/") if text.isascii() else ""
        try:
            return int(digits) if kind == "whole" else float(digits)
        except ValueError as error:
            wanted = "whole number" if kind == "whole" else "number"
            raise BadInput(f"'{units.printable(text)}' is not a {wanted}; write it in digits") from error
    return text


def job_text(sheet: JobSheet) -> str:
    """The file in TOML, every quantity with the unit it was answered in."""
    kinds = {one.name: one.kind for one in (*_MIRROR, *_LAP, *_SETUP, *_WORK)}
    lines = [
        "# A mirror's file for benchctl. Every quantity carries its unit; change what changes.",
        "schema = 1",
    ]
    if "logbook" in sheet.answers:
        lines.append(f"logbook = {_toml(sheet.answers['logbook'])}")

    def part(head: str, answers: dict[str, str], name: str) -> None:
        own = {key: text for key, text in answers.items() if key.startswith(f"{name}.")}
        if own:
            lines.extend(["", head])
            lines.extend(
                f"{key.partition('.')[2]} = {_toml(_value(kinds.get(key, 'text'), text))}"
                for key, text in own.items()
            )

    part("[mirror]", sheet.answers, "mirror")
    for lap in sheet.laps:
        part("[[laps]]", lap, "lap")
    for name in ("setup", "segment", "press", "room", "marks"):
        part(f"[{name}]", sheet.answers, name)
    return "\n".join(lines) + "\n"


def _toml(value: object) -> str:
    """A value as TOML writes it; a text's control characters are escaped."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
