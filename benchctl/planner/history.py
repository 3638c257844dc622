"""What has been done to one mirror, as the planner needs it: segments, looks, care of the lap, decisions.

It is fed the logbook's records one by one, as plain fields; it reads no file. Kinds and fields that say
nothing here are passed over, and a field that is missing leaves its value unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from benchctl.errors import BadInput
from benchctl.models.inspection import Inspection, ZoneLook
from benchctl.models.json_values import as_number
from benchctl.models.validation import made

SEGMENT_KINDS = ("segment_end", "segment_interrupted")
LEAST_TURNS = 5.0
"""Fewer useful turns than this took nothing from the glass that could be told; nor did a lap without load."""


@dataclass(frozen=True)
class Done:
    """A segment that was polished; `number` counts this mirror's segments from 1. None: not measured."""

    number: int
    load_n: float
    post_offset_m: float
    useful_turns: float
    work_rpm: float
    spin_ratio: float | None = None
    load_percent: float | None = None
    jerky_share: float = 0.0
    room_temperature_c: float | None = None
    segment_id: str = ""


@dataclass(frozen=True)
class Look:
    """What was seen after the first `after` segments: zones 1 to 5, then the last 5 mm."""

    after: int
    rings: tuple[ZoneLook, ...]

    @property
    def pits_counted(self) -> bool:
        """Whether pits were counted, or called too many, in every one of the five zones."""
        return all(ring.pits for ring in self.rings[:-1])


@dataclass(frozen=True)
class Care:
    """What was done to lap or glass after the first `after` segments: trimmed, pressed, charged ..."""

    after: int
    act: str


@dataclass(frozen=True)
class Decided:
    """What was decided after the first `after` segments, as the logbook's `decision` record has it."""

    after: int
    fields: Mapping[str, Any]

    @property
    def act(self) -> str:
        return str(self.fields.get("act") or "")

    @property
    def followed(self) -> bool:
        """Whether something was done to the bench: what was declined was not."""
        return self.fields.get("taken") != "declined"


@dataclass
class History:
    """The work on one mirror in the order it was done. `take` adds a record of the logbook."""

    mirror: str
    segments: list[Done] = field(default_factory=list)
    looks: list[Look] = field(default_factory=list)
    cares: list[Care] = field(default_factory=list)
    decisions: list[Decided] = field(default_factory=list)

    def take(self, kind: str, fields: Mapping[str, Any]) -> None:
        """Take one record: a segment's end joined with its start, an inspection, a note, a decision."""
        if fields.get("mirror") not in (None, "", self.mirror):
            return
        if kind in SEGMENT_KINDS:
            self._segment(fields)
        elif kind == "inspection":
            self._look(fields)
        elif kind == "note" and fields.get("lap_care"):
            self.cares.append(Care(self.done, str(fields["lap_care"])))
        elif kind == "decision":
            self.decisions.append(Decided(self.done, fields))

    @property
    def done(self) -> int:
        return len(self.segments)

    def until(self, after: int) -> History:
        """The same as it was after the first `after` segments, with the looks taken then."""
        return History(
            self.mirror,
            self.segments[:after],
            [one for one in self.looks if one.after <= after],
            [one for one in self.cares if one.after <= after],
            [one for one in self.decisions if one.after <= after],
        )

    def segments_since_care(self, *acts: str) -> int:
        """Segments since the lap last had one of these; all of them where it never had."""
        return self.done - max((one.after for one in self.cares if one.act in acts), default=0)

    def _segment(self, fields: Mapping[str, Any]) -> None:
        load, offset, turns, speed = (
            as_number(fields.get(name)) for name in ("load_n", "post_offset_m", "useful_turns", "work_rpm")
        )
        if load is None or offset is None or turns is None or turns < LEAST_TURNS or load <= 0.0:
            return
        spin = as_number(fields.get("spin_ratio_mean"))
        states = fields.get("lap_states_share") or {}
        self.segments.append(
            Done(
                number=self.done + 1,
                load_n=load,
                post_offset_m=offset,
                useful_turns=turns,
                work_rpm=speed or 0.0,
                spin_ratio=spin if spin is not None and 0.0 <= spin < 2.0 else None,
                load_percent=as_number(fields.get("load_mean_percent")),
                jerky_share=as_number(states.get("jerky")) or 0.0 if isinstance(states, Mapping) else 0.0,
                room_temperature_c=as_number(fields.get("room_temperature_c")),
                segment_id=str(fields.get("segment") or ""),
            )
        )

    def _look(self, fields: Mapping[str, Any]) -> None:
        known = {name: value for name, value in fields.items() if name in Inspection.model_fields}
        try:
            seen = made(lambda: Inspection.model_validate(known, context={"si": True}))
        except BadInput:
            return
        self.looks.append(Look(self.done, tuple(ring for _, ring in seen.looks())))
