"""Orders in a row, one in flight."""

from __future__ import annotations

import pytest

from benchctl.link.orders import PATIENCE_S, RETRY_S, RUN_PATIENCE_S, TRIES, Numbers, Order, Outbox


def order(name: str, at_s: float = 0.0, value: int = 0) -> Order:
    return Order(name, (value,), at_s)


def sent_times(outbox: Outbox, until_s: float) -> list[float]:
    """When something is sent, looked at every 10 ms; what is given up is taken out as the link does."""
    times = []
    for tick in range(round(until_s * 100)):
        now_s = tick / 100
        outbox.given_up(now_s)
        if outbox.due(now_s, 7) is not None:
            times.append(now_s)
    return times


def test_an_unanswered_order_is_sent_five_times() -> None:
    """An order that nobody answers is sent at 0, 0.1, 0.2, 0.3 and 0.4 s and given up at 0.5 s."""
    outbox = Outbox()
    outbox.put(order("arm"))
    assert sent_times(outbox, 0.5) == pytest.approx([0.0, 0.1, 0.2, 0.3, 0.4], abs=0.03)
    assert [late.name for late in outbox.given_up(0.55)] == ["arm"]
    assert outbox.due(0.6, 7) is None


def test_run_is_not_sent_late() -> None:
    """RUN is sent only within 300 ms of being asked for, however long it waited behind another order."""
    outbox = Outbox()
    outbox.put(order("run"))
    assert sent_times(outbox, 2.0) == pytest.approx([0.0, 0.1, 0.2], abs=0.02)
    outbox = Outbox()
    outbox.put(order("call"))
    outbox.put(order("run"))
    first = outbox.due(0.0, 7)
    assert first is not None
    assert outbox.given_up(RUN_PATIENCE_S - 0.05) == []
    outbox.answered("call", 7, first.seq)
    assert [late.name for late in outbox.given_up(RUN_PATIENCE_S + 0.05)] == ["run"]
    assert outbox.due(RUN_PATIENCE_S + 0.06, 7) is None


def test_an_order_that_cannot_be_sent_is_given_up() -> None:
    """What could not be sent for a second is given up, not kept for later."""
    outbox = Outbox()
    outbox.put(order("arm", 10.0))
    assert outbox.given_up(10.0 + PATIENCE_S - 0.01) == []
    assert [late.name for late in outbox.given_up(10.0 + PATIENCE_S)] == ["arm"]


def test_one_in_flight() -> None:
    """The next order goes out only when the one before is answered."""
    outbox = Outbox()
    outbox.put(order("arm"))
    outbox.put(order("reset"))
    first = outbox.due(0.0, 7)
    assert first is not None
    assert outbox.due(0.05, 7) is None
    assert outbox.answered("arm", 7, first.seq + 1) is None
    assert outbox.answered("arm", 6, first.seq) is None
    assert outbox.answered("call", 7, first.seq) is None
    done = outbox.answered("arm", 7, first.seq)
    assert done is not None
    assert done.name == "arm"
    second = outbox.due(0.05, 8)
    assert second is not None
    assert (second.order.name, second.epoch, second.seq) == ("reset", 8, first.seq + 1)


def test_a_retry_is_the_same_order() -> None:
    """Sent again with the epoch and sequence number of the first time, so that the board acts once."""
    outbox = Outbox()
    outbox.put(order("arm"))
    first = outbox.due(0.0, 7)
    again = outbox.due(RETRY_S, 9)
    assert first is not None
    assert again is not None
    assert (again.epoch, again.seq) == (first.epoch, first.seq) == (7, 1)
    assert again.tries == 2 < TRIES


def test_the_newest_speed_counts() -> None:
    """Of speeds and calls that wait, only the newest is sent; other orders keep their place."""
    outbox = Outbox()
    for name, value in (("set_speed", 1), ("reset", 2), ("set_speed", 3), ("call", 4), ("call", 5)):
        outbox.put(order(name, value=value))
    sent = []
    while (flying := outbox.due(0.0, 1)) is not None:
        sent.append(flying.order.message[0])
        outbox.answered(flying.order.name, 1, flying.seq)
    assert sent == [2, 3, 5]


def test_the_sequence_number_wraps() -> None:
    """Numbers have 16 bits and go on from 0 after 65535."""
    numbers = Numbers(0)
    assert [numbers.next() for _ in range(65537)][65534:] == [65535, 0, 1]
