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
from benchctl.units import printable

JOB_FILE_LIMIT_BYTES = 65536


class Marks(Record):
    """Numbered marks on the mirror's rim, evenly spaced."""

    count: int = Field(default=13, ge=1, le=60)
    start: int | None = Field(default=None, ge=1, le=60)
    draw: Literal["balanced", "plain"] = "balanced"
    """Among the best third of the unused marks, or among all of them."""

    @model_validator(mode="after")
    def _start_is_on_the_rim(self) -> Self:
        if self.start is not None and self.start > self.count:
            raise ValueError(f"start ({self.start}) is not on the rim; the marks are 1 to {self.count}")
        return self


class Job(Record):
    """A mirror's file: everything a press or a segment is run from.

    A file has one lap, or several with names, of which `setup.lap` says the one in use; `lap` is that one.
    """

    schema_version: Literal[1] = Field(default=1, alias="schema")
    logbook: str | None = Field(default=None, min_length=1, max_length=1000)
    """The folder of this mirror's logbook; in the file it may be relative to the file's own folder."""
    mirror: Mirror
    laps: tuple[Lap, ...] = Field(default=(), max_length=20)
    lap: Lap
    table: Table = Table()
    setup: Setup
    charge: Charge = Charge()
    room: Room = Room()
    segment: SegmentPlan
    press: PressPlan = PressPlan()
    marks: Marks = Marks()

    @model_validator(mode="before")
    @classmethod
    def _choose_lap(cls, data: Any) -> Any:
        return data | {"lap": _lap_in_use(data)} if isinstance(data, dict) and data.get("laps") else data

    @model_validator(mode="after")
    def _lap_meets_mirror(self) -> Self:
        if self.setup.lap not in (None, self.lap.name):
            raise ValueError(
                f"setup.lap is {printable(repr(self.setup.lap))}, and the one lap here is "
                f"{printable(repr(self.lap.name))}; put several laps under [[laps]]"
            )
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

    def with_press(self, change: dict[str, float | None]) -> Job:
        """The same job with a press changed as the file spells it, in SI; BadInput where out of range.

        A time of the shift that was named holds for the length it was named for.
        """
        return self._checked({"press": self.press.model_dump(by_alias=True) | change}, "this press")

    def _checked(self, change: dict[str, Any], where: str) -> Job:
        data = self.model_dump(by_alias=True, exclude={"lap"} if self.laps else None) | change
        try:
            return Job.model_validate(data, context={"si": True})
        except ValidationError as error:
            raise BadInput(f"{where}: {first_complaint(error)}") from error


def _lap_in_use(data: dict[str, Any]) -> Any:
    """The one of several laps that the set-up names; what is no list of tables the fields refuse."""
    if "lap" in data:
        raise ValueError("a file has either [lap] or [[laps]]; put them all under [[laps]]")
    laps, setup = data["laps"], data.get("setup")
    asked = setup.get("lap") if isinstance(setup, dict) else None
    if not isinstance(laps, list | tuple) or not all(isinstance(one, dict) for one in laps):
        return laps
    names = [one.get("name", "lap") for one in laps]
    if twice := {name for name in names if names.count(name) > 1}:
        raise ValueError(f"two laps have the name {printable(repr(min(map(str, twice))))}; give each its own")
    if asked is None and len(laps) == 1:
        return laps[0]
    if asked not in names:
        known = ", ".join(printable(repr(name)) for name in names)
        word = "is missing" if asked is None else f"is {printable(repr(asked))}"
        raise ValueError(f"setup.lap {word}; say which lap is in use: {known}")
    return laps[names.index(asked)]


def read_job(path: Path) -> Job:
    """Read a job file, or the one shipped for the word 'demo' where no file has that name.

    BadInput names the file, the field, the value and what would be accepted.
    """
    if str(path) == "demo" and not path.exists():
        return demo_job()
    try:
        with path.open("rb") as file:
            raw = file.read(JOB_FILE_LIMIT_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise BadInput(f"cannot read job file {path}: {reason}; check the path and the rights") from error
    job = parse_job(raw, str(path))
    if job.logbook is None:
        return job
    return job.model_copy(update={"logbook": str(path.absolute().parent / job.logbook)})


def parse_job(raw: bytes, where: str) -> Job:
    """Turn the bytes of a job file into a Job; `where` names it in messages."""
    if len(raw) > JOB_FILE_LIMIT_BYTES:
        raise BadInput(
            f"{where}: is too large for a job file, over {JOB_FILE_LIMIT_BYTES} bytes; is it the right file?"
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
