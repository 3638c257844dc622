"""What the screen's plan and logbook places show, and where a look at the glass is kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchctl.errors import BenchError

if TYPE_CHECKING:
    from benchctl.assembly.build import Parts
    from benchctl.assembly.reckoner import Reckoner
    from benchctl.models.preferences import Preferences
    from benchctl.tui.places import Places


def places_for(parts: Parts, preferences: Preferences) -> Places:
    """The places of a running bench, shown as the person prefers."""
    from benchctl.assembly import looks
    from benchctl.assembly.reckoner import Reckoner
    from benchctl.lapwatch.words import blind_spot
    from benchctl.models.preferences import keep_preferences
    from benchctl.simulator.mishaps import MISHAPS
    from benchctl.tui.places import Places

    simulated = parts.plant is not None
    reckoner = Reckoner(parts)
    plan = cache(lambda: _make_plan(parts))
    return Places(
        plan=lambda units: _guarded(lambda: [*_reckoned(reckoner, units), "", *_plan(plan, units)]),
        decide=reckoner.decide,
        logbook=lambda _units: _guarded(lambda: logbook_lines(parts.keeper.folder)),
        save_look=lambda look: looks.save_look(parts, look),
        last_look=lambda: looks.last_look(parts),
        look_due=lambda: looks.look_due(parts),
        pieces=parts.runner.facts.job.setup.pieces,
        differences=lambda units: _guarded(lambda: _differences(parts, units)),
        blind_spot=lambda: blind_spot(parts.runner.targets[0]),
        preferences=preferences,
        keep_preferences=keep_preferences,
        keep_preparation=lambda answers: _keep_preparation(parts, answers),
        mishaps=tuple((mishap.name, mishap.line) for mishap in MISHAPS) if simulated else (),
        play=(lambda name: parts.play(name)) if simulated else None,
    )


def _keep_preparation(parts: Parts, answers: Mapping[str, str]) -> None:
    """What was answered before arming, as a note of the logbook with its answers as fields."""
    text = ", ".join(f"{name}: {answer}" for name, answer in answers.items())
    parts.runner.journal.keep("note", {"text": f"prepared: {text}"[:2000]})


def _differences(parts: Parts, units: str) -> list[str]:
    """What is set otherwise than in the last segment of this mirror that the logbook has."""
    from benchctl.logbook.reader import read
    from benchctl.logbook.segments import segments
    from benchctl.planner.differences import differences

    job = parts.runner.facts.job
    found = [
        one
        for one in segments(read(parts.keeper.folder, quick=True))
        if one.fields.get("mirror") == job.mirror.name
    ]
    return differences(job, found[-1].fields, units) if found else []


def _guarded(lines: Any) -> list[str]:
    try:
        return list(lines())
    except (BenchError, OSError) as error:
        return [str(error)]


def _reckoned(reckoner: Reckoner, units: str) -> list[str]:
    from benchctl.units import reword

    return [reword(line, units) for line in reckoner.lines()]


def _make_plan(parts: Parts) -> dict[str, Any]:
    from benchctl.planner.plan import make_plan

    return make_plan(parts.runner.facts.job)


def _plan(plan: Callable[[], dict[str, Any]], units: str) -> list[str]:
    """The whole plan of the job, as `benchctl plan` tells it."""
    from benchctl.planner.plan_text import plan_lines

    return plan_lines(plan(), system=units)


def logbook_lines(folder: Path) -> list[str]:
    """The segments, the newest first, and what they come to."""
    from benchctl.logbook.reader import read
    from benchctl.logbook.segments import segments
    from benchctl.logbook.text import segment_list

    found = segments(read(folder, quick=True))
    polished_s = sum(one.number_of("polishing_s") or 0.0 for one in found)
    turns = sum(one.number_of("useful_turns") or 0.0 for one in found)
    count = f"{len(found)} segment{'s' * (len(found) != 1)}"
    whole = f"{count}: {polished_s / 3600:.1f} h polished, {turns:.0f} useful turns."
    return [whole, "", *segment_list(found[::-1]), "", f"Kept in {folder}"]
