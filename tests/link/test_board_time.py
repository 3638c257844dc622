"""The board's clock unwrapped, and its offset from the host's."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from benchctl.link.board_time import ROUND_TRIPS, WRAP, BoardTime

STEPS = st.lists(st.integers(0, 5000), min_size=1, max_size=50)


@given(st.integers(0, WRAP - 1), STEPS)
def test_time_goes_on_across_the_wrap(start_ms: int, steps: list[int]) -> None:
    """Seconds grow by what passed, also where the 32-bit milliseconds begin again (after 49.7 days)."""
    time, passed = BoardTime(), 0
    first = time.seconds(start_ms)
    for step in steps:
        passed += step
        assert round((time.seconds((start_ms + passed) % WRAP) - first) * 1000) == passed


@given(st.integers(0, WRAP - 1), st.integers(0, 9999))
def test_a_late_frame_lies_before_the_newest(now_ms: int, late_ms: int) -> None:
    """A frame held back on the way has its own time, and those after it are not moved by it."""
    time = BoardTime()
    time.seconds((now_ms - 20000) % WRAP)
    newest = time.seconds(now_ms)
    assert not time.began_anew((now_ms - late_ms) % WRAP)
    assert round((newest - time.seconds((now_ms - late_ms) % WRAP)) * 1000) == late_ms
    assert round((time.seconds((now_ms + 10) % WRAP) - newest) * 1000) == 10


def test_a_restart_is_told_from_lateness_and_from_the_wrap() -> None:
    """Ten minutes back is a board that began anew; ten seconds back is a late frame; a wrap is neither."""
    time = BoardTime()
    assert not time.began_anew(5)
    time.seconds(600_000)
    assert time.began_anew(50)
    assert not time.began_anew(595_000)
    time = BoardTime()
    time.seconds(WRAP - 50)
    assert not time.began_anew(100)


@given(st.integers(0, 5_000_000_000), st.integers(-1000, 60_000_000))
def test_stamps_lie_before_their_message(sent_ms: int, age_us: int) -> None:
    """A 32-bit stamp in microseconds (71.6 min) is placed by the time its batch was sent."""
    stamp = (sent_ms * 1000 - age_us) % WRAP
    placed = BoardTime.stamp_seconds(stamp, sent_ms / 1000.0)
    assert abs(placed - (sent_ms / 1000.0 - age_us / 1e6)) < 1e-6


def test_the_quickest_exchange_gives_the_offset() -> None:
    """Board time minus host time, from the exchange of the last thirty that took least."""
    time = BoardTime()
    assert time.offset_s is None
    time.round_trip(10.0, 10.2, 110.05)
    time.round_trip(11.0, 11.01, 111.005)
    time.round_trip(12.0, 12.1, 112.09)
    assert time.offset_s is not None
    assert abs(time.offset_s - 100.0) < 1e-9
    for number in range(ROUND_TRIPS):
        time.round_trip(20.0 + number, 20.1 + number, 120.05 + number + 0.5)
    assert time.offset_s is not None
    assert abs(time.offset_s - 100.5) < 1e-9
    time.restart()
    assert time.offset_s is None
