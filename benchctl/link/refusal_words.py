"""Why the board did not do what was asked, and what a person can do about it."""

from __future__ import annotations

_DO = {
    "no_answer": "did not answer; check cable and power",
    "settings_unknown": "has not told its settings yet; try again",
    "version_differs": "speaks another version of the protocol: it can be watched and stopped only; "
    "put the files of this program on it with 'benchctl board put'",
    "schema_differs": "knows other messages than this program: it can be watched and stopped only; "
    "put the files of this program on it with 'benchctl board put'",
    "not_owner": "takes no orders from this program; try again",
    "owned_by_another": "is in use by another program; close that one first",
    "wrong_state": "is in another state than this needs; stop the table, and reset a stop for a fault first",
    "out_of_range": "says that the value is out of its range",
    "above_ceiling": "says that the speed is above its ceiling",
    "estop_is_open": "reports the emergency stop pressed; release it by twisting",
    "wrong_fault": "has stopped for another fault by now; look again",
    "fault_latched": "has a fault latched; find the cause, then reset it",
    "table_moving": "has not seen the table at rest for long enough; wait a few seconds",
    "too_soon": "was told to run too soon after arming",
    "arm_expired": "was armed too long ago; arm again",
    "pedal_pressed": "reads the pedal pressed or its wire broken",
    "old_value_differs": "has another value by now; look again",
    "service_locked": "is locked: not commissioned yet, or power stayed on once; "
    "find out which, then unlock it with 'benchctl board settings service_lock=no'",
    "power_is_on": "reads power on the drive although it should have none; switch off and look",
}


def known_refusal(why: object) -> bool:
    """Whether it is the name of a refusal that has words of its own."""
    return isinstance(why, str) and why in _DO


def refusal_sentence(why: str) -> str:
    """'the board ...' for the name of a refusal; the name itself where there are no words for it."""
    return f"the board {_DO[why]}" if why in _DO else f"the board refused ({why})"
