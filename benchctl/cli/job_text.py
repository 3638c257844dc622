"""What `benchctl job show` says of a mirror: its file, and what its logbook tells."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import segments
from benchctl.models.job import Job
from benchctl.models.lap import Lap
from benchctl.models.weights import weights_words
from benchctl.session.preparation import Preparation
from benchctl.units import LENGTH, MASS, printable, show

CARE = ("trimmed", "brushed", "remade")


def lap_history(job: Job, book: Logbook) -> dict[str, list[dict[str, Any]]]:
    """What was told of each lap of the file, oldest first, with the segments polished since."""
    found = segments(book)
    history: dict[str, list[dict[str, Any]]] = {one.name: [] for one in job.laps or (job.lap,)}
    for entry in book.of_kind("note"):
        told, name = entry.fields.get("lap_care"), entry.fields.get("lap")
        if told in CARE and name in history:
            since = sum(one.n > entry.n and one.fields.get("lap") == name for one in found)
            history[name].append(
                {"at": entry.at, "lap_care": told, "text": entry.fields.get("text"), "segments_since": since}
            )
    return history


def job_facts(job: Job, book: Logbook, folder: Path) -> dict[str, Any]:
    """All of it for programs, in SI."""
    marks = Preparation(book, job, lambda: 0).view()
    press = next((entry for entry in reversed(book.entries) if entry.kind == "press"), None)
    return {
        "job": job.model_dump(mode="json", exclude={"laps"} if not job.laps else None),
        "logbook": str(folder),
        "laps": lap_history(job, book),
        "marks": {
            "pass_number": marks.pass_number,
            "unused": list(marks.unused),
            "waiting": marks.mark,
            "print_through_2": marks.two_fold,
            "print_through_3": marks.three_fold,
        },
        "last_press": None if press is None else press.flat(),
    }


def job_lines(job: Job, book: Logbook, folder: Path, system: str) -> list[str]:
    """All of it for people, in the units they chose."""
    mirror, facts = job.mirror, job_facts(job, book, folder)
    across, edge = (show(one, LENGTH, system) for one in (mirror.diameter_m, mirror.edge_thickness_m))
    hole = "no hole" if not mirror.hole_diameter_m else f"hole {show(mirror.hole_diameter_m, LENGTH, system)}"
    lines = [
        f"Mirror   {printable(mirror.name)}: {across} f/{mirror.focal_ratio:g}, {mirror.glass}, "
        f"{edge} thick, {hole}"
    ]
    for lap in job.laps or (job.lap,):
        lines += _lap_lines(lap, lap.name == job.lap.name, facts["laps"][lap.name], system)
    lines += [
        f"Weights  {weights_words(job.setup.pieces, system)}; with the lap "
        f"{show(job.load_n / 9.80665, MASS, system)}",
        f"Post     offset {show(job.setup.post_offset_m, LENGTH, system)}",
    ]
    marks = Preparation(book, job, lambda: 0).view()
    lines.append(f"Marks    {marks.ahead} {marks.left}")
    lines.append(f"Press    {_press_words(facts['last_press'], system)}")
    lines.append(f"Logbook  {folder}: {_segments(len(segments(book)))}")
    return lines


def _lap_lines(lap: Lap, in_use: bool, history: list[dict[str, Any]], system: str) -> list[str]:
    name = f"{printable(lap.name)}{' (in use)' if in_use else ''}"
    lines = [
        f"Lap      {name}: {show(lap.diameter_m, LENGTH, system)}, "
        f"{show(lap.mass_kg, MASS, system)}, pitch {printable(lap.pitch)}, land {lap.land_fraction:.0%}"
    ]
    for care in CARE:
        told = [one for one in history if one["lap_care"] == care]
        if told:
            last = told[-1]
            lines.append(
                f"         {care} {last['at'][:10]}, {_segments(last['segments_since'])} ago"
                f"{f' ({len(told)} times)' if len(told) > 1 else ''}: {printable(str(last['text']))}"
            )
    return lines if len(lines) > 1 else [*lines, "         nothing told of its care yet"]


def _segments(count: int) -> str:
    return "1 segment" if count == 1 else f"{count} segments"


def _press_words(fields: dict[str, Any] | None, system: str) -> str:
    if fields is None:
        return "none in the logbook yet"
    load, length = fields.get("load_kg"), fields.get("length_s")
    minutes = "unknown" if not isinstance(length, int | float) else f"{length / 60:.0f} min"
    weights = "unknown load" if not isinstance(load, int | float) else show(load, MASS, system)
    when, outcome = str(fields.get("at"))[:16].replace("T", " "), fields.get("outcome") or "completed"
    return f"{when}: {minutes}, {weights}, {printable(str(outcome))}"
