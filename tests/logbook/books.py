"""Small logbooks for the tests of this folder, and the story of the demo mirror in any length."""

from __future__ import annotations

import math
import os
import random
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from benchctl.logbook.segments import end_fields
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.inspection import Inspection
from benchctl.models.segment_record import SegmentRecord
from benchctl.planner.marks import Placed, draw

AT = datetime(2026, 3, 1, 14, 2, 3, tzinfo=timezone(timedelta(hours=1)))
MIRROR = "Bench demo 460"
PLAN = {"mirror": MIRROR, "lap": "310 plaster", "planned_s": 960.0, "work_rpm": 26.0, "load_n": 189.3}
PLAN |= {
    "mirror_radius_m": 0.23,
    "mirror_hole_radius_m": 0.031,
    "room_temperature_c": 20.0,
    "room_humidity": 0.48,
}

COMPLETED: dict[str, Any] = {
    "outcome": "completed",
    "stop_reason": None,
    "stop_kind": "planned",
    "polishing_s": 960.0,
    "planned_s": 960.0,
    "wet_down": "answered",
    "wettings": 3,
    "standing_s": 21.0,
    "work_rpm": 26.0,
    "load_n": 189.3,
    "mirror": MIRROR,
    "lap": "310 plaster",
    "simulated": True,
    "lap_states_share": {"settling": 0.02, "steady": 0.98},
}
STALLED: dict[str, Any] = {
    "outcome": "stopped",
    "stop_reason": "lap_stalled",
    "stop_kind": "controlled_then_off",
    "polishing_s": 400.0,
    "table_turns": 160.0,
    "wet_down": "not_reached",
    "standing_s": 95.0,
}


_SHARES = {0.128: (0.98, 0.99, 1.01, 1.02, 0.99, 0.93), 0.131: (0.93, 0.97, 1.04, 1.07, 1.04, 1.0)}
"""Depth by zone beside the mean at two offsets, as in the demo scenario; the last 5 mm are a guess."""


def tokens() -> Callable[[], str]:
    """Ids that are the same in each run."""
    numbers = iter(range(10_000_000))
    return lambda: f"{next(numbers):06x}"


def write_notes(folder: Path, count: int, text: str = "note") -> list[str]:
    """A logbook of `count` notes; their ids."""
    writer = LogbookWriter(folder, token=tokens())
    ids = [writer.append("note", {"text": f"{text} {i}"}, at=AT, mono_s=float(i)) for i in range(count)]
    writer.close()
    return ids


class Story:
    """Writes the demo mirror's job: drawn marks, segments, looks, a few mishaps, notes and a moved post."""

    def __init__(self, folder: Path, *, synced: bool = True) -> None:
        sync = os.fsync if synced else lambda descriptor: None
        self.writer = LogbookWriter(folder, program="benchctl 0.1.0", token=tokens(), sync=sync)
        self.luck = random.Random(460)
        self.placed: list[Placed] = []
        self.now_s = 0.0
        self.number = 0
        self.plan: dict[str, Any] = dict(PLAN)

    def keep(self, kind: Any, fields: dict[str, Any], after_s: float = 60.0) -> str:
        self.now_s += after_s
        at = AT + timedelta(seconds=self.now_s)
        return self.writer.append(kind, fields, at=at, mono_s=self.now_s)

    def segment(self, **more: Any) -> str:
        """One drawn mark and one segment there; its id."""
        self.number += 1
        drawn = draw(self.placed, 13, self.number, depth=1.0)
        self.keep("mark_draw", drawn.fields())
        offset = 0.128 if self.number < 10 else 0.131
        spin = 0.74 if self.number == 6 else round(0.92 + self.luck.gauss(0.0, 0.01), 3)
        turns = more.get("table_turns", round(410 + self.luck.gauss(0.0, 2.0), 1))
        plan = self.plan | {"mark": drawn.mark, "post_offset_m": offset, "simulated": True}
        segment = self.keep("segment_start", plan, 1200.0)
        facts: dict[str, Any] = COMPLETED | {
            "table_turns": turns,
            "lap_turns": round(turns * spin, 1),
            "useful_turns": turns - 6,
            "spin_ratio_mean": spin,
            "spin_ratio_p05": round(spin - 0.03, 3),
            "spin_ratio_p95": round(spin + 0.03, 3),
            "load_mean_percent": round(41 + self.luck.gauss(0, 1), 1),
            "mark": drawn.mark,
            "post_offset_m": offset,
            "zone_depths_m": [round(0.56e-9 * turns * share, 12) for share in _SHARES[offset]],
            "preston_per_pa": 6e-13,
        }
        record = SegmentRecord.model_validate(facts | more, context={"si": True})
        self.keep("segment_end", end_fields(segment, record), record.polishing_s + 30)
        self.placed.append(Placed(drawn.mark, record.table_turns))
        return segment

    def look(self, segment: str, **more: Any) -> str:
        """A look at the glass after so many segments: grey fades, the inmost zone last."""
        depth = 0.23 * self.number / 6.2
        zones = [
            {"grey": round(10 * math.exp(-depth * rate / 0.27) * 2) / 2, "pits": _pits(depth * rate)}
            for rate in (0.90, 0.94, 1.0, 1.03, 1.0)
        ]
        look = Inspection.model_validate(
            {
                "segment": segment,
                "mirror": MIRROR,
                "zones": zones,
                "edge": zones[0],
                "room_temperature_c": 20.0,
            }
            | more,
            context={"si": True},
        )
        return self.keep("inspection", look.model_dump(mode="json"), 600.0)

    def tell(self, count: int, look_every: int = 3) -> None:
        """The whole story in `count` segments."""
        self.keep("session_start", {"mirror": MIRROR})
        for _ in range(count):
            more: dict[str, Any] = STALLED if self.number % 40 == 7 else {}
            segment = self.segment(**more)
            if self.number % 40 == 9:
                self.keep(
                    "decision", {"decision": "post 3 mm out", "predicted": "inner zones +10 %, edge -3 %"}
                )
            if self.number % look_every == 0:
                sleek = {"kind": "sleek", "angle_deg": 130.0, "radius_m": 0.095, "length_m": 0.012}
                self.look(segment, **({"blemishes": [sleek]} if self.number % 9 == 0 else {}))
            if self.number % 12 == 5:
                self.keep("note", {"text": "channels trimmed", "lap_care": "trimmed", "lap": "310 plaster"})
        self.writer.close()


def _pits(share: float) -> list[Any]:
    left = round(400 * (1 - min(1.0, share)) ** 2)
    return ["too many"] * 3 if left > 50 else [left] * 3


def write_story(folder: Path, count: int, *, synced: bool = True) -> None:
    """A logbook of `count` segments of the demo mirror with all that belongs to them."""
    Story(folder, synced=synced).tell(count)
