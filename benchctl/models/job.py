"""A job file: mirror, lap, table, set-up, room and segment, in TOML with units as people write them."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from benchctl.errors import BadInput
from benchctl.models.lap import Lap
from benchctl.models.mirror import Mirror
from benchctl.models.quantities import Record
from benchctl.models.recipe import PressPlan, SegmentPlan
from benchctl.models.setup import STANDARD_GRAVITY_M_S2, Charge, Room, Setup, Table
from benchctl.models.validation import first_complaint

JOB_FILE_LIMIT_BYTES = 65536


class Marks(Record):
    """Numbered marks on the mirror's rim, evenly spaced."""

    count: int = Field(default=13, ge=1, le=60)
    start: int | None = Field(default=None, ge=1, le=60)


class Job(Record):
    """Everything a segment is run from."""

    schema_version: Literal[1] = Field(default=1, alias="schema")
    mirror: Mirror
    lap: Lap
    table: Table = Table()
    setup: Setup
    charge: Charge = Charge()
    room: Room = Room()
    segment: SegmentPlan
    press: PressPlan = PressPlan()
    marks: Marks = Marks()

    @model_validator(mode="after")
    def _lap_meets_mirror(self) -> Self:
        reach = self.lap.radius_m + self.mirror.radius_m
        if self.setup.post_offset_m >= reach:
            raise ValueError(
                f"setup.post_offset ({self.setup.post_offset_m * 1000:g} mm) puts the lap beside the mirror; "
                f"it must be below {reach * 1000:g} mm"
            )
        return self

    @property
    def load_n(self) -> float:
        """Weight of lap and weights together, in newtons."""
        return (self.lap.mass_kg + self.setup.weight_kg) * STANDARD_GRAVITY_M_S2

    @property
    def preston_per_pa(self) -> float:
        own = self.setup.preston_per_pa
        return self.mirror.glass_data.preston_per_pa if own is None else own

    def with_minutes(self, minutes: float) -> Job:
        """The same job with another length of segment; BadInput where that is out of range."""
        segment = self.segment.model_dump(by_alias=True)
        segment["length"] = minutes * 60.0
        return self._checked({"segment": segment}, "--minutes")

    def _checked(self, change: dict[str, Any], where: str) -> Job:
        data = self.model_dump(by_alias=True) | change
        try:
            return Job.model_validate(data, context={"si": True})
        except ValidationError as error:
            raise BadInput(f"{where}: {first_complaint(error)}") from error


def read_job(path: Path) -> Job:
    """Read a job file, or the one shipped for the word 'demo' where no file has that name.

    BadInput names the file, the field, the value and what would be accepted.
    """
    if str(path) == "demo" and not path.exists():
        return demo_job()
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise BadInput(f"cannot read job file {path}: {reason}; check the path and the rights") from error
    return parse_job(raw, str(path))


def parse_job(raw: bytes, where: str) -> Job:
    """Turn the bytes of a job file into a Job; `where` names it in messages."""
    if len(raw) > JOB_FILE_LIMIT_BYTES:
        raise BadInput(
            f"{where}: {len(raw)} bytes is too large for a job file (limit {JOB_FILE_LIMIT_BYTES})"
        )
    try:
        data = tomllib.loads(raw.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise BadInput(f"{where}: not a text file in UTF-8; save it as plain text") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadInput(f"{where}: not valid TOML: {error}") from error
    try:
        return Job.model_validate(data)
    except ValidationError as error:
        raise BadInput(f"{where}: {first_complaint(error)}") from error


def demo_job() -> Job:
    """The demo job that ships with the program, "Bench demo 460"; its data are invented."""
    return parse_job(demo_job_text().encode(), "the demo job")


def demo_job_text() -> str:
    """The demo job file as text."""
    return resources.files("benchctl.models").joinpath("bench_demo_460.toml").read_text(encoding="utf-8")
