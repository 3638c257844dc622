"""How much a row of lost targets costs: rare in a good pickup, common in one that has gone weak.

A reading carries its doubt, the probability that the pickup is weak just now. One lost target raises it a
little, several soon after one another make the next one cheap.
"""

from __future__ import annotations

import math

WEAK_LOSS = 0.35
"""Share of targets that a weak pickup loses (15 to 65 % are to be told from a usual one)."""
MOST_LOST = 200
"""A longer row proves no more, and its probability is too small for a number."""
LEAST_DOUBT = 3e-4
AT_REST_DOUBT = 1e-5
"""Doubt, before any target was lost, that silence comes of a weak pickup."""


def after_loss(doubt: float, usual: float) -> float:
    """Doubt after one more lost target; `usual` is the share that this pickup usually loses."""
    weak = doubt * WEAK_LOSS
    return weak / (weak + (1.0 - doubt) * usual)


def after_seen(doubt: float, usual: float) -> float:
    """Doubt after a target was seen."""
    weak = doubt * (1.0 - WEAK_LOSS)
    doubt = weak / (weak + (1.0 - doubt) * (1.0 - usual))
    return doubt if doubt > LEAST_DOUBT else LEAST_DOUBT


def loss_nats(doubt: float, usual: float, lost: int) -> float:
    """Minus log of the probability that so many targets in a row are lost."""
    if lost <= 0:
        return 0.0
    lost = min(lost, MOST_LOST)
    return -math.log((1.0 - doubt) * usual**lost + doubt * WEAK_LOSS**lost)


def silence_nats(doubt: float, usual: float, lost: int) -> float:
    """The same for targets that have not come yet: losses of late count, the floor of the doubt does not."""
    odds = AT_REST_DOUBT / LEAST_DOUBT * doubt / max(1.0 - doubt, 1e-9)
    return loss_nats(odds / (1.0 + odds), usual, lost)
