"""Everything a face may show, as it stands at one moment. Immutable; a newer one replaces it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

from benchctl.guard.alarm import Alarm as Alarm
from benchctl.models.press_record import PressRecord
from benchctl.models.segment_record import SegmentRecord
from benchctl.planner.mark_ledger import MarkView
from benchctl.press.view import PressView
from benchctl.segment.states import State
from benchctl.session.acts import Act


class Call(NamedTuple):
    """What the bench calls out for: a pattern for sound and lamp, the words, what to do, and until when."""

    pattern: str
    """wet_down, end, caution or fault."""
    title: str
    do: str
    due_in_s: float | None
    silenced: bool = False


class Line(NamedTuple):
    """One line of what happened: seconds since the table was told to turn, words with metric quantities, and
    the event with its details, from which `journal.words_of` makes words in other units."""

    at_s: float
    words: str
    event: str = ""
    details: Mapping[str, object] = MappingProxyType({})


class Column(NamedTuple):
    """One column of the strip charts; None where nothing was measured."""

    at_s: float
    spin_ratio: float | None
    load_percent: float | None


class LapView(NamedTuple):
    """What the lap watcher says."""

    state: str
    words: str
    reason: str
    spin_ratio: float | None
    lap_rpm: float | None
    expected_ratio: float | None
    severity: float | None


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The bench at `now_s` (the host's clock). Speeds in rpm, times in seconds, None for unknown or stale."""

    now_s: float
    state: State
    allowed: frozenset[Act]
    headline: str
    """What is happening, in a word or two."""
    do_now: str
    """What the person should do now."""
    next_what: str
    next_in_s: float | None
    left_s: float
    planned_s: float
    elapsed_s: float
    """Since the table was told to run; 0 before."""
    turning: bool
    """By the table's sensor, never by the command."""
    link: str
    """not_connected, connected or lost."""
    board_state: str
    board_id: str
    target_rpm: float
    set_rpm: float | None
    table_rpm: float | None
    load_percent: float | None
    lap: LapView
    call: Call | None = None
    alarms: tuple[Alarm, ...] = ()
    """One line for each cause: the first cause of a stop first, then by priority."""
    folded: tuple[Alarm, ...] = ()
    """The consequences, each with the name of the alarm that it folds beneath."""
    shelved: tuple[Alarm, ...] = ()
    """Advice that a person has put aside for a time."""
    offered_rpm: float | None = None
    """A slower speed that is offered for a lap that jerks."""
    refusal: str = ""
    """Why the last act was refused, in one sentence; empty where it was not."""
    stop_detail: str = ""
    """After a stop: what was measured when it came, or what happened."""
    look_at: str = ""
    """After a stop: what to look at before the next start."""
    since_wetted_s: float | None = None
    time_to_dry_s: float | None = None
    table_turns: float = 0.0
    lap_turns: float = 0.0
    useful_turns: float = 0.0
    standing_s: float | None = None
    """How long the lap has stood on the resting glass; None while it does not."""
    rest_seen: bool = True
    """False where the segment is over and the table was not seen to come to rest."""
    stop_reason: str | None = None
    wet_down: str = "not_reached"
    mark: int | None = None
    marks: MarkView | None = None
    """Where the marks stand; None where none are kept."""
    press: PressView | None = None
    """The cold press under way; None while there is none."""
    pressed: PressRecord | None = None
    """The last press of this sitting, once it has ended."""
    work_rpm: float = 0.0
    ceiling_rpm: float = 0.0
    simulated: bool = False
    mirror: str = ""
    load_n: float = 0.0
    post_offset_m: float = 0.0
    weights_captured: bool = True
    recovered: str = ""
    """What the last start found unfinished, in one sentence; empty where nothing was."""
    record_kept: bool = True
    """False while a record could not be put on disk."""
    record: SegmentRecord | None = None
    lines: tuple[Line, ...] = field(default=())
    chart: tuple[Column, ...] = field(default=())
