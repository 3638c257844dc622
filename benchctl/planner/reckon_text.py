"""The job reckoned, for people: lines of the answer of `reckoned`, of a what-if and of a sitting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from benchctl.planner.depth import RING_NAMES
from benchctl.planner.reckoned import CANNOT_TELL, FINISHED, NOT_REACHED
from benchctl.planner.sitting import Sitting

MICRON = 1e6
_SHOWN_ROWS = 8


def reckoned_lines(told: Mapping[str, Any], *, bench_rows: int = _SHOWN_ROWS) -> list[str]:
    """All groups, the most wanted first; rows of tables within 72 columns."""
    return [
        headline(told),
        "",
        *progress_lines(told),
        "",
        *suggestion_lines(told["suggestion"]),
        "",
        *told["regime"]["why"],
        *([""] if told["changes"] else []),
        *(one["words"] for one in told["changes"]),
        *_bench_lines(told, bench_rows),
    ]


def headline(told: Mapping[str, Any]) -> str:
    """What is left and what to do, in one sentence."""
    found = told["suggestion"]
    return f"{_outlook(told)}. Next: {'go on as it is' if found is None else found['words']}."


def _outlook(told: Mapping[str, Any]) -> str:
    zone, verdict = told["last_zone"]["zone"], told["last_zone"]["verdict"]
    if verdict == FINISHED:
        return "All five zones are finished"
    if verdict != CANNOT_TELL:
        return f"Zone {zone} is last: {verdict}"
    if not told["looks"]:
        return "One cannot tell yet what is left"
    return f"Zone {zone} is likely the last; in how many segments one cannot tell yet"


def progress_lines(told: Mapping[str, Any]) -> list[str]:
    """What is left in each ring, the last zone, the coefficient."""
    done, looks = _count(told["segments_done"], "segment"), _count(told["looks"], "look")
    head = f"{told['mirror']}: {done} polished, {looks} at the glass."
    if not told["looks"]:
        head += " Nobody has looked yet: what follows rests on tables alone."
    elif not told["pits_counted"]:
        head += " No pits counted yet: grey alone promises too early, so nothing is called finished by it."
    lines = [
        head,
        "",
        "ring   taken   left, um            segments left",
        "          um   10 %  50 %  90 %    10 %  50 %  90 %",
    ]
    for row in told["rings"]:
        depth = " ".join(f"{MICRON * one:5.2f}" for one in row["depth_left_m"])
        left = " ".join(f"{one:5.1f}" for one in row["segments_left"])
        verdict = "" if row["verdict"].endswith("segments left") else row["verdict"]
        taken = MICRON * row["depth_taken_m"][1]
        lines.append(f"{row['ring']:<6} {taken:5.2f}  {depth}   {left}  {verdict}".rstrip())
    preston = told["preston"]
    low, likely, high = preston["own_per_pa"]
    return [
        *lines,
        "",
        _last_line(told["last_zone"]),
        f"Preston coefficient: {_e13(likely)}e-13 1/Pa, 80 % between {_e13(low)} and {_e13(high)}; the job "
        f"says {_e13(preston['job_per_pa'])}.",
    ]


def _last_line(last: Mapping[str, Any]) -> str:
    if last["verdict"] == FINISHED:
        return "No zone is left."
    if last["verdict"] == NOT_REACHED:
        return f"Zone {last['zone']} is never clear with the lap and the post as they are."
    low, likely, high = last["segments_left"]
    doubt = f"; {CANNOT_TELL}" if last["verdict"] == CANNOT_TELL else ""
    return (
        f"Last will be zone {last['zone']}, in {low:.1f} to {high:.1f} segments (likely {likely:.1f}){doubt}."
    )


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _e13(value: float) -> str:
    return f"{1e13 * value:.1f}"


def suggestion_lines(found: Mapping[str, Any] | None) -> list[str]:
    """The one suggestion with its reason, effect and doubt."""
    if found is None:
        return ["Suggestion: none; go on as it is."]
    lines = [f"Suggestion: {found['words']}", f"  Why: {found['reason']}"]
    if found["effect"]:
        rows = zip(RING_NAMES, found["effect"], found["effect_low"], found["effect_high"], strict=True)
        told = [f"{name} {_share(one)} ({_share(low)} to {_share(high)})" for name, one, low, high in rows]
        lines.append(f"  A segment then takes, by ring: {', '.join(told)}.")
    if found["saves"]:
        low, likely, high = found["saves"]
        lines.append(f"  The last zone is clear {likely:.1f} segments sooner ({low:+.1f} to {high:+.1f}).")
    return lines


def _share(value: float) -> str:
    """A signed percentage, without a minus sign before 0."""
    return f"{round(value, 2) + 0.0:+.0%}"


def _bench_lines(told: Mapping[str, Any], most: int) -> list[str]:
    rows = told["bench"][-most:]
    if not rows:
        return []
    lines = [
        "",
        "segment   spin           effort, first=1  depth a segment, um",
        "          said  seen     said  seen       said  reckoned (10 to 90 %)",
    ]
    for row in rows:
        low, likely, high = (MICRON * one for one in row["depth_reckoned_m"])
        lines.append(
            f"{row['number']:7}   {row['spin_predicted']:.2f}  {_two(row['spin_measured'])}     "
            f"{_two(row['torque_predicted'])}  {_two(row['torque_measured'])}       "
            f"{MICRON * row['depth_predicted_m']:.2f}  {likely:.2f} ({low:.2f} to {high:.2f})"
        )
    return [*lines, *(one["words"] for one in told["standing"])]


def _two(value: float | None) -> str:
    return " -- " if value is None else f"{value:.2f}"


def what_if_lines(found: Mapping[str, Any]) -> list[str]:
    """A what-if beside going on as it is."""
    change = found["change"]
    words = []
    if change["post_m"]:
        way = "outward" if change["post_m"] > 0 else "inward"
        words.append(f"post {1000 * abs(change['post_m']):g} mm {way}")
    if change["load_share"] != 1.0:
        words.append(f"load {change['load_share']:.0%} of the present")
    count = change["segments"]
    until = _count(count, "segment") if count else "until the end"
    lines = [
        f"What if: {' and '.join(words) or 'as it is'}, {until}.",
        "",
        "ring   a segment   clear in, segments   as it is" + ("            left then, um" if count else ""),
        "                   10 %  50 %  90 %     10 %  50 %  90 %"
        + ("    10 %  50 %  90 %" if count else ""),
    ]
    for i, name in enumerate(RING_NAMES):
        then = " ".join(f"{one:5.1f}" for one in found["finish"][i])
        now = " ".join(f"{one:5.1f}" for one in found["finish_now"][i])
        left = ""
        if found["depth_left_m"]:
            left = " ".join(f"{MICRON * one:5.2f}" for one in found["depth_left_m"][i])
        lines.append(f"{name:<6} {_share(found['effect'][i]):>7}     {then}    {now}   {left}".rstrip())
    low, likely, high = found["saves"]
    return [
        *lines,
        "",
        f"The last zone is then zone {found['last_zone']}, clear in {_span(found['last'])} segments;",
        f"as it is zone {found['last_zone_now']}, {_span(found['last_now'])}.",
        f"That is {likely:+.1f} segments gained ({low:+.1f} to {high:+.1f}).",
    ]


def _span(three: Sequence[float]) -> str:
    return f"{three[0]:.1f} to {three[2]:.1f} (likely {three[1]:.1f})"


def sitting_lines(sitting: Sitting) -> list[str]:
    """The steps with their times from the start."""
    lines = [
        f"Sitting: {_count(sitting.segments, 'segment')}, marks {', '.join(map(str, sitting.marks))}"
        + ("; the pass of marks ends with them." if sitting.ends_pass else "."),
        *sitting.why,
        "",
    ]
    for step in sitting.steps:
        hours, minutes = divmod(int(step.at_s // 60), 60)
        lines.append(f"{hours:2}:{minutes:02}  {step.length_s / 60:4.0f} min  {step.words}")
    return [*lines, f"{sitting.spare_s / 60:.0f} min to spare."]
