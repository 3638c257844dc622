"""Makes docs/segment-states.md from the table that the engine runs: `python -m tests.segment.states_page`."""

from __future__ import annotations

from pathlib import Path

from benchctl.segment.states import LIMITS, TABLE, TURNING, On, State
from benchctl.session.words import STATE_WORDS

PAGE = Path(__file__).parents[2] / "docs" / "segment-states.md"

HEAD = """\
# Which states does a segment go through?

This page is made from the table that the program runs (`benchctl/segment/states.py`); a test fails when
they differ. An event that a state does not list is refused and changes nothing. STOP is listed everywhere. It
is a controlled stop, not an emergency stop and not a safety-rated function.

"""


def page() -> str:
    """The whole page as text."""
    parts = [
        HEAD,
        "| state | on the screen | what the person does | lasts at most | turns |\n|---|---|---|---|---|\n",
    ]
    for state in State:
        words, limit = STATE_WORDS[state], LIMITS.get(state)
        lasts = "the segment's time" if limit is None else _limit(limit.seconds)
        turns = "yes" if state in TURNING else ""
        parts.append(f"| `{state}` | {words.headline} | {words.do_now} | {lasts} | {turns} |\n")
    for state in State:
        parts.append(f"\n## {state}\n\n| event | leads to | act |\n|---|---|---|\n")
        rows = [(event, TABLE[state, event]) for event in On if (state, event) in TABLE]
        parts += [f"| {event} | {row.to} | {row.act.replace('_', ' ')} |\n" for event, row in rows]
    return "".join(parts)


def _limit(seconds: float | str) -> str:
    return f"`{seconds}` of the plan" if isinstance(seconds, str) else f"{seconds:g} s"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
