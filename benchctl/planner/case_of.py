"""From a job to the contact that its lap makes: the bridge from what a person wrote to the mechanics."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

import numpy as np

from benchctl.errors import BadInput
from benchctl.models.job import Job
from benchctl.physics.case import Case, read_case
from benchctl.physics.contact import Contact

PROFILE_RADII = 121
_NAMES = {
    "mirror_radius_m": "mirror.diameter",
    "hole_radius_m": "mirror.hole_diameter",
    "lap_radius_m": "lap.diameter",
    "pivot_height_m": "lap.drive_point_height",
    "post_offset_m": "setup.post_offset",
    "post_drag_nm": "setup.post_drag",
    "friction_coefficient": "setup.friction",
    "preston_per_pa": "setup.preston",
    "load_n": "setup.weights",
    "table_speed_rad_per_s": "segment.work_speed",
}
Result = TypeVar("Result")


def case_of(job: Job) -> Case:
    """The contact of a job at its working speed: centre load, no tension, Coulomb friction, pivot height.

    BadInput names the field of the job file.
    """
    mirror, lap, setup = job.mirror, job.lap, job.setup
    given = {
        "mirror_radius_m": mirror.radius_m,
        "hole_radius_m": mirror.hole_radius_m,
        "lap_radius_m": lap.radius_m,
        "post_offset_m": setup.post_offset_m,
        "load_n": job.load_n,
        "table_speed_rad_per_s": job.segment.work_rpm * 2 * math.pi / 60,
        "pivot_height_m": lap.drive_point_height_m,
        "post_drag_nm": setup.post_drag_nm,
        "friction_coefficient": setup.friction,
        "preston_per_pa": job.preston_per_pa,
        "radii_m": [float(r) for r in np.linspace(mirror.hole_radius_m, mirror.radius_m, PROFILE_RADII)],
    }
    return in_job_words(lambda: read_case(given))


def moved(case: Case, offset_m: float) -> Case:
    """The same with the post at another offset (metres). BadInput where the lap would miss the glass."""
    contact = case.contact
    at = Contact(contact.mirror_radius_m, contact.lap_radius_m, offset_m, contact.hole_radius_m)
    return replace(case, contact=at)


def in_job_words(act: Callable[[], Result]) -> Result:
    """Do something; a refusal comes back with the job file's names of the fields in it."""
    try:
        return act()
    except BadInput as error:
        words = str(error)
        for name, field in _NAMES.items():
            words = words.replace(name, field)
        raise BadInput(words) from error
