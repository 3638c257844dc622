"""What an order may ask for: each check gives a refusal of `reasons` (0: fine) and the limit concerned."""

from firmware_protocol import reasons as r
from firmware_protocol.settings import Settings

LEAST_MRPM = 500
LONGEST_RUN_MS = 86400000
LONGEST_STANDING_MS = 180000


def arm_refusal(settings: Settings, ceiling: int, load_limit: int) -> tuple[int, int]:
    """A job may lower the stored ceiling and load limit, never raise them."""
    if settings.service_lock:
        return r.SERVICE_LOCKED, 0
    if ceiling > settings.ceiling_mrpm:
        return r.ABOVE_CEILING, settings.ceiling_mrpm
    if ceiling < LEAST_MRPM:
        return r.OUT_OF_RANGE, LEAST_MRPM
    if not 0 < load_limit <= settings.load_limit_permille:
        return r.OUT_OF_RANGE, settings.load_limit_permille
    return r.OK, 0


def speed_refusal(target: int, ceiling: int) -> tuple[int, int]:
    """A speed from 0.5 rpm to the armed ceiling; 0 is not a way to stop."""
    if target < LEAST_MRPM:
        return r.OUT_OF_RANGE, LEAST_MRPM
    return (r.ABOVE_CEILING, ceiling) if target > ceiling else (r.OK, 0)


def end_refusal(call_after: int, end_after: int, standing: int) -> tuple[int, int]:
    """An end within a day of the start, and at most three minutes of standing after it."""
    if not (0 < end_after <= LONGEST_RUN_MS and 0 <= call_after <= LONGEST_RUN_MS):
        return r.OUT_OF_RANGE, LONGEST_RUN_MS
    return (r.OUT_OF_RANGE, LONGEST_STANDING_MS) if standing > LONGEST_STANDING_MS else (r.OK, 0)
