"""The segment's records: its start before the table turns, its progress, its end once the table rests."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchctl.lapwatch import LapWatch
from benchctl.logbook.keeper import Ticket
from benchctl.logbook.lines import Kind
from benchctl.logbook.traces import TraceGatherer, header_line
from benchctl.models.job import Job
from benchctl.models.readings import LapPulse, Reading, Status, TablePulse
from benchctl.models.segment_record import SegmentRecord
from benchctl.planner.case_of import case_of
from benchctl.planner.depth import zone_depths_m
from benchctl.planner.lag import read_lag
from benchctl.segment.commands import CloseRecord
from benchctl.session.journal import Journal
from benchctl.session.tally import Tally

if TYPE_CHECKING:
    from benchctl.session.bench_state import Bench

DEPTH_DIGITS = 12
"""A picometre: far below what is known, and enough not to round a short segment to nothing."""
LEAST_TURNS = 5.0
"""Fewer table turns than this say nothing of the spin ratio."""
START_PATIENCE_S = 3.0
"""How long a start waits for its record to be on disk."""


@dataclass(frozen=True)
class SegmentFacts:
    """What is known of a segment before it starts."""

    job: Job
    simulated: bool
    mark: int | None = None
    seed: int | None = None
    predicted_ratio: float | None = None
    time_to_dry_s: float | None = None
    weights_rpm: float = math.inf
    """The highest speed at which the loose weights stay put; infinite where all are captured."""
    recovered: str = ""
    port_warning: str = ""
    """What is wrong with who drives the port, in one sentence; empty where nothing is."""


class Bookkeeper:
    """Keeps one segment's records in the logbook by way of the journal."""

    def __init__(self, journal: Journal, facts: SegmentFacts) -> None:
        self.journal = journal
        self.facts = facts
        self.opening: Ticket | None = None
        self.ending: Ticket | None = None
        self.record: SegmentRecord | None = None
        self._opened_s = self._progress_s = 0.0
        self._remarks: list[str] = []
        self._alarms: Counter[str] = Counter()
        self._trace: TraceGatherer | None = None

    def open(self, now_s: float, trace_head: Mapping[str, object]) -> None:
        """Put the start of the segment on its way to disk, and begin its trace with this first line."""
        job = self.facts.job
        self._opened_s = now_s
        fields = {
            "mirror": job.mirror.name,
            "lap": job.lap.name,
            "mark": self.facts.mark,
            "planned_s": job.segment.length_s,
            "work_rpm": job.segment.work_rpm,
            "load_n": round(job.load_n, 3),
            "post_offset_m": job.setup.post_offset_m,
            "lap_radius_m": job.lap.radius_m,
            "mirror_radius_m": job.mirror.radius_m,
            "mirror_hole_radius_m": job.mirror.hole_radius_m,
            "last_abrasive_m": job.mirror.last_abrasive_m,
            "glass": job.mirror.glass,
            "compound": job.charge.compound,
            "room_temperature_c": job.room.temperature_c,
            "room_humidity": job.room.humidity,
            "simulated": self.facts.simulated,
            "seed": self.facts.seed,
        }
        self.opening = ticket = self.journal.keep("segment_start", fields)
        header = header_line(trace_head)
        self._trace = TraceGatherer(header, lambda batch: self.journal.trace(ticket.record_id, batch))

    def may_start(self) -> bool:
        """Whether the start of the segment is on disk."""
        return self.opening is not None and self.opening.kept

    def start_failed(self, now_s: float) -> bool:
        """Whether the start could not be put on disk in time."""
        return not self.may_start() and now_s - self._opened_s > START_PATIENCE_S

    def see(self, reading: Reading) -> None:
        """Add a reading to the segment's trace."""
        if self._trace is None:
            return
        if isinstance(reading, LapPulse):
            self._trace.pulse(reading.at_s)
        elif isinstance(reading, TablePulse):
            self._trace.table_pulse(reading.at_s)
        elif isinstance(reading, Status):
            self._trace.status(reading.at_s, reading.set_rpm, reading.table_rpm, reading.load_percent)

    def progress(self, now_s: float, tally: Tally) -> None:
        """Say how far the segment is; the logbook keeps it every few seconds."""
        if self.opening is not None and now_s - self._progress_s >= 1.0:
            self._progress_s = now_s
            self.journal.progress(self.opening.record_id, tally.sums())

    def count_alarm(self, name: str) -> None:
        """One alarm was raised."""
        self._alarms[name] += 1

    def keep_event(self, kind: Kind, fields: Mapping[str, object]) -> None:
        """Put something that happened into the logbook, with the segment it happened in."""
        segment = {} if self.opening is None else {"segment": self.opening.record_id}
        self.journal.keep(kind, {**fields, **segment})

    def remark(self, text: str) -> None:
        """A person's note on this segment."""
        self._remarks.append(text[:500])
        self.keep_event("note", {"text": text[:2000]})

    def close(self, closing: CloseRecord, bench: Bench) -> None:
        """Put the end of the segment on its way to disk."""
        if self.opening is None:
            return
        if self._trace is not None:
            self._trace.flush()
            self._trace = None
        self.record = self._make(closing, bench)
        names = {"segment": self.opening.record_id, "rest_seen": closing.rest_seen}
        self.ending = self.journal.keep("segment_end", names | self.record.model_dump())

    def lifted(self, standing_s: float | None) -> None:
        """The lap is off the glass: the time it stood is added to the record by a correction."""
        if self.record is None or self.ending is None or standing_s is None:
            return
        standing_s = round(standing_s, 3)
        self.record = self.record.model_copy(update={"standing_s": standing_s})
        fields = {"corrects": self.ending.record_id, "standing_s": standing_s, "why": "lap lifted"}
        self.journal.keep("correction", fields)

    @property
    def kept(self) -> bool:
        """Whether every record is on disk or on its way there without trouble."""
        return self.journal.keeper.state.trouble is None

    def _make(self, closing: CloseRecord, bench: Bench) -> SegmentRecord:
        job, tally, engine = self.facts.job, bench.tally, bench.engine
        board = bench.link.board
        turned = tally.table_turns
        return SegmentRecord.model_validate(
            {
                "outcome": closing.outcome,
                "stop_reason": closing.stop_reason,
                "stop_kind": closing.stop_kind,
                "stop_detail": bench.at.stop_detail[:200],
                "planned_s": job.segment.length_s,
                "spin_ratio_mean": round(tally.lap_turns / turned, 4) if turned > LEAST_TURNS else None,
                "spin_ratio_predicted": self.facts.predicted_ratio,
                "load_mean_percent": _rounded(tally.load_mean_percent),
                "lap_alarms": dict(self._alarms),
                "wet_down": closing.wet_down,
                "wettings": engine.wettings,
                "water_answer_s": _rounded(engine.water_answer_s),
                "frames_damaged": bench.listening.damaged_in_segment,
                "mark": self.facts.mark,
                "work_rpm": engine.work_rpm,
                "load_n": round(job.load_n, 3),
                "weights": job.setup.pieces,
                "post_offset_m": job.setup.post_offset_m,
                "mirror": job.mirror.name,
                "lap": job.lap.name,
                "simulated": self.facts.simulated,
                "seed": self.facts.seed,
                "board_id": "" if board is None else board.board_id,
                "note": " · ".join(self._remarks)[:2000],
            }
            | tally.sums()
            | lap_facts(bench.watch)
            | lag_facts(job, tally.lap_turns / turned if turned > LEAST_TURNS else None)
            | depth_facts(job, tally)
        )


def lag_facts(job: Job, ratio: float | None) -> dict[str, Any]:
    """What the measured spin ratio says, read back as drag at the post or as a load off the lap's centre."""
    if ratio is None or not 0.05 < ratio < 1.0:
        return {}
    reading = read_lag(case_of(job), ratio)
    return {
        "lag_post_drag_nm": round(reading.post_drag_nm, 4),
        "lag_load_off_centre_m": round(reading.load_off_centre_m, 5),
        "lag_causes": list(reading.causes),
    }


def depth_facts(job: Job, tally: Tally) -> dict[str, Any]:
    """What the mechanics say was taken from each zone, at the spin that was measured."""
    turned = tally.table_turns
    depths = zone_depths_m(
        job,
        load_n=job.load_n,
        post_offset_m=job.setup.post_offset_m,
        spin_ratio=tally.lap_turns / turned if turned > LEAST_TURNS else None,
        useful_turns=tally.useful_turns,
    )
    return {
        "zone_depths_m": [round(depth, DEPTH_DIGITS) for depth in depths],
        "preston_per_pa": job.preston_per_pa,
    }


def lap_facts(watch: LapWatch) -> dict[str, Any]:
    """What the watcher sums up over the segment, under the names of the segment record."""
    summary = watch.summary()
    return {
        "spin_ratio_p05": _rounded(summary.ratio_p05),
        "spin_ratio_p95": _rounded(summary.ratio_p95),
        "severity_worst": _rounded(summary.severity_worst),
        "lap_states_share": {state: round(share, 4) for state, share in summary.state_share.items()},
        "lap_memory": watch.memory(),
        "edges_repaired": summary.edges_repaired,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
