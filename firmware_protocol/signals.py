"""When the buzzer and the lamp are on: one pattern a call, the same for ear and eye.

wet_down  two short beeps every 2 s
end       one second on, half a second off
fault     four times a second, for two seconds of every three
"""

from firmware_protocol.messages import CALL_END, CALL_FAULT, CALL_WET_DOWN


def is_on(call: int, now_ms: int) -> bool:
    """Whether the pattern of `call` is on at this millisecond of the board's clock."""
    if call == CALL_WET_DOWN:
        at = now_ms % 2000
        return at < 150 or 300 <= at < 450
    if call == CALL_END:
        return now_ms % 1500 < 1000
    if call == CALL_FAULT:
        return now_ms % 3000 < 2000 and now_ms % 250 < 125
    return False
