"""A job as plain fields, fit for JSON: SI units under the names of a job file."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from benchctl.errors import BadInput
from benchctl.models.job import Job
from benchctl.models.validation import first_complaint


def fields_of_job(job: Job) -> dict[str, Any]:
    """The job as `job_of_fields` takes it, with the lap in use alone."""
    return job.model_dump(by_alias=True, mode="json", exclude={"laps", "logbook"})


def job_of_fields(fields: object, where: str) -> Job:
    """The job that was turned into these fields. BadInput with `where` if they are none."""
    try:
        return Job.model_validate(fields, context={"si": True})
    except ValidationError as error:
        raise BadInput(f"{where}: {first_complaint(error)}") from error
