"""The witness sees what it is there for: with a guard taken out, the rule that needs it is broken."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from benchctl.logbook.files import AppendFile
from benchctl.segment.engine import SegmentEngine
from benchctl.simulator.board import SimulatedBoard
from firmware_protocol import lease, reasons
from firmware_protocol.controller import Controller
from firmware_protocol.messages import DISARMED, RUNNING
from firmware_protocol.motion import Motion
from firmware_protocol.plausibility import Plausibility
from firmware_protocol.ramp import Ramp
from tests.campaign.draws import Case, Fault, draw
from tests.campaign.story import Story

Patch = Callable[[pytest.MonkeyPatch], None]


def case(*faults: Fault, starts_again: bool = False) -> Case:
    """A case of an attentive person with the faults given."""
    return draw(1)._replace(
        faults=faults, strays=(), operator="attentive", host_step_s=0.15, starts_again=starts_again
    )


def broken(case: Case, folder: Path) -> set[str]:
    """The rules that a case breaks."""
    return {breach.rule for breach in Story(case, folder).play()}


HOST_DIES = Fault("host-dies", 9.0, None)
RUNAWAY = Fault("runaway", 9.0, None)
CABLE_OUT = Fault("cable-out", 9.0, 2.0)
BELT_SLIP = Fault("belt-slip", 9.0, None)


def test_with_all_guards_in_place_no_rule_is_broken(tmp_path: Path) -> None:
    """The same cases break nothing as long as nothing is taken out."""
    for number, fault in enumerate((HOST_DIES, RUNAWAY, CABLE_OUT, BELT_SLIP)):
        assert broken(case(fault, starts_again=True), tmp_path / str(number)) == set()


def no_permit(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(lease, "LEASE_MS", 60_000)


def no_overspeed(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Plausibility, "speed_limit", lambda self, ceiling_mrpm: 10**9)


def lazy_ramp(patch: pytest.MonkeyPatch) -> None:
    head_for = Ramp.head_for
    patch.setattr(Ramp, "head_for", lambda self, to, up, down: head_for(self, to, up, down // 4))


def starts_by_itself(patch: pytest.MonkeyPatch) -> None:
    step = Motion.step

    def stepped(self: Motion, dt_ms: int) -> bool:
        if self.state == DISARMED and self.up_ms > 500:
            self.state, self.enable = RUNNING, True
        return step(self, dt_ms)

    patch.setattr(Motion, "step", stepped)


def power_stays(patch: pytest.MonkeyPatch) -> None:
    pins = SimulatedBoard._drive_pins

    def driven(self: SimulatedBoard, now_s: float) -> None:
        pins(self, now_s)
        self.powered = True

    patch.setattr(SimulatedBoard, "_drive_pins", driven)


def too_fast(patch: pytest.MonkeyPatch) -> None:
    asked = Controller.speed_out_mrpm.fget
    patch.setattr(Controller, "speed_out_mrpm", property(lambda self: asked(self) and 61_000))


def no_checks(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Plausibility, "tick", lambda self, set_mrpm, load, table, lap: 0)


def forgets_records(patch: pytest.MonkeyPatch) -> None:
    append = AppendFile.append

    def forgetful(self: AppendFile, data: bytes, *, synced: bool = True) -> None:
        if b'"kind":"segment_start"' not in data:
            append(self, data, synced=synced)

    patch.setattr(AppendFile, "append", forgetful)


def tells_another_cause(patch: pytest.MonkeyPatch) -> None:
    stop = SegmentEngine._stop

    def wrong(self: SegmentEngine, outcome: str, reason: str | None, kind: str, **more: bool) -> object:
        return stop(self, outcome, "pedal_stuck" if reason else reason, kind, **more)

    patch.setattr(SegmentEngine, "_stop", wrong)


def never_resets(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Motion, "reset", lambda self, fault: (reasons.WRONG_FAULT, 0))


@pytest.mark.parametrize(
    ("take_out", "fault", "rule"),
    [
        (no_permit, HOST_DIES, "detection"),
        (no_overspeed, RUNAWAY, "overspeed"),
        (lazy_ramp, HOST_DIES, "rest"),
        (starts_by_itself, CABLE_OUT, "start"),
        (power_stays, CABLE_OUT, "power"),
        (too_fast, CABLE_OUT, "ceiling"),
        (no_checks, BELT_SLIP, "following"),
        (forgets_records, CABLE_OUT, "logbook"),
        (tells_another_cause, CABLE_OUT, "cause"),
        (never_resets, HOST_DIES, "again"),
    ],
)
def test_a_guard_that_is_taken_out_breaks_its_rule(
    take_out: Patch, fault: Fault, rule: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each rule is broken once what it needs is gone."""
    take_out(monkeypatch)
    assert rule in broken(case(fault, starts_again=rule == "again"), tmp_path)


def test_a_table_that_moves_by_itself_is_seen(tmp_path: Path) -> None:
    """A table that has rested and moves while the board is disarmed breaks a rule."""
    story = Story(case(), tmp_path)
    story.still(1.0)
    story.bench.plant.table_rad_s = 1.0
    story.still(0.2)
    assert [breach.rule for breach in story.witness.breaches] == ["creep-up"]
