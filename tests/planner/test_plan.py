"""The plan of a job: its figures against the demo's own, its text, its picture, and what it refuses."""

from __future__ import annotations

import json
import math
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from benchctl.cli import main
from benchctl.models.job import Job, demo_job, demo_job_text, parse_job
from benchctl.planner.plan import make_plan
from benchctl.planner.plan_text import plan_lines, plan_svg
from benchctl.planner.plot import Curve, svg_plot, terminal_plot
from benchctl.units import INCH

GROUPS = (
    "pressure", "overhang", "spin", "table", "evenness", "offsets", "lag", "segment", "progress", "stopping",
    "weights", "hold", "tilt", "water", "heat", "curve", "warnings",
)  # fmt: skip


def job(**changed: str) -> Job:
    """The demo job with lines changed: key (last word of the line's name) = new value."""
    return parse_job(text(**changed).encode(), "the test job")


def text(**changed: str) -> str:
    """The demo job's file with values of keys changed (first place each)."""
    lines = demo_job_text().splitlines()
    for key, value in changed.items():
        place = next(i for i, line in enumerate(lines) if line.startswith(f"{key} ="))
        lines[place] = f"{key} = {value}"
    return "\n".join(lines)


@cache
def demo() -> dict[str, Any]:
    """The demo job's plan."""
    return make_plan(demo_job())


def test_all_groups_are_there_and_hold_finite_numbers() -> None:
    """Every group of the plan is there, and all of it is JSON without NaN or infinity."""
    assert set(GROUPS) < set(demo())
    json.dumps(demo(), allow_nan=False)


def test_the_demo_set_up() -> None:
    """The demo set: 2.5, 3.7 and about 5.6 kPa, 9.7 N m, 26 W, spin about 0.91, 0.56 nm a turn, 0.23 um."""
    plan = demo()

    assert plan["pressure"]["nominal_pa"] == pytest.approx(2.5e3, rel=0.01)
    assert plan["pressure"]["on_facets_pa"] == pytest.approx(3.7e3, rel=0.02)
    assert plan["pressure"]["at_edge_pa"] == pytest.approx(5.6e3, rel=0.03)
    assert plan["table"]["torque_nm"] == pytest.approx(9.7, rel=0.04)
    assert plan["table"]["friction_power_w"] == pytest.approx(26, rel=0.03)
    assert plan["spin"]["predicted_ratio"] == pytest.approx(0.91, abs=0.02)
    assert plan["segment"]["depth_per_turn_m"] == pytest.approx(0.56e-9, rel=0.02)
    assert plan["segment"]["depth_m"] == pytest.approx(0.23e-6, rel=0.03)
    assert plan["offsets"]["neutral"]["offset_m"] == pytest.approx(0.128, abs=2e-3)
    assert plan["progress"]["segments_likely"] == pytest.approx(26, abs=2)


def test_power_balance() -> None:
    """What the table takes is the friction's heat and what the post eats: M Omega = D + T omega."""
    plan = demo()
    speed = 26.0 * math.pi / 30
    post = plan["spin"]["post_drag_nm"] * plan["spin"]["predicted_ratio"] * speed

    assert plan["table"]["power_w"] == pytest.approx(plan["table"]["friction_power_w"] + post, rel=1e-9)


def test_zones_add_up() -> None:
    """The five zones weighted by area are the mean; the segment's depths are their rates times its length."""
    even, segment = demo()["evenness"], demo()["segment"]
    areas = [z["outer_m"] ** 2 - z["inner_m"] ** 2 for z in even["zones"]]
    mean = sum(a * z["rate_m_per_s"] for a, z in zip(areas, even["zones"], strict=True)) / sum(areas)

    assert mean == pytest.approx(even["mean_rate_m_per_s"], rel=1e-6)
    assert segment["zone_depths_m"] == pytest.approx([z["rate_m_per_s"] * 960.0 for z in even["zones"]])


def test_the_change_of_a_millimetre() -> None:
    """The change stated for a millimetre is what a post a millimetre farther out does."""
    here, there = demo()["offsets"], make_plan(job(post_offset='"129 mm"'))["offsets"]

    for key in ("curve_tendency", "spin_ratio"):
        change = there["now"][key] - here["now"][key]
        assert here["per_mm_outward"][key] == pytest.approx(change, rel=0.02)
    assert here["per_mm_outward"]["curve_tendency"] == pytest.approx(0.045, abs=0.005)


def test_more_work_speed_leaves_the_shape_alone() -> None:
    """The evenness does not depend on the table's speed; depth and heat grow with it."""
    fast = make_plan(job(work_speed='"30 rpm"'))

    assert fast["evenness"]["cv"] == pytest.approx(demo()["evenness"]["cv"], rel=1e-6)
    assert fast["segment"]["depth_m"] / demo()["segment"]["depth_m"] == pytest.approx(30 / 26, rel=1e-6)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"post_drag": '"5 N m"'}, "stalls the lap"),
        ({"post_offset": '"150 mm"'}, "lifts off"),
        (
            {"weights_captured": "false", "weights_radius": '"140 mm"', "work_speed": '"40 rpm"'},
            "capture them",
        ),
        ({"cleats": "false"}, "fit cleats"),
        ({"drive_point_height": '"110 mm"'}, "trailing edge"),
        ({"humidity": '"15 %"', "rewet_every": '"9 min"'}, "wet more often"),
    ],
)
def test_warnings(changed: dict[str, str], words: str) -> None:
    """Each trouble that the numbers show is said in a sentence; the demo itself has none."""
    assert demo()["warnings"] == []
    assert any(words in warning for warning in make_plan(job(**changed))["warnings"])


def test_a_still_post_on_the_axis() -> None:
    """With the post on the axis nothing is removed: the plan says so without dividing by it."""
    plan = make_plan(job(post_offset='"0 mm"', post_drag='"0 N m"'))

    assert plan["segment"]["depth_m"] == 0.0
    assert plan["segment"]["turns_per_micron"] is None
    assert plan["progress"]["segments_likely"] is None
    assert plan["evenness"]["cv"] is None
    json.dumps(plan, allow_nan=False)
    assert plan_lines(plan)


def test_the_text_answers_and_marks_the_rim() -> None:
    """The text fits 100 columns, holds the offsets, and says that figures at the rim are indicative."""
    lines = plan_lines(demo())

    assert max(len(line) for line in lines) <= 100
    whole = "\n".join(lines)
    for words in ("most even", "neutral", "ONE MILLIMETRE", "indicative", "dry in", "turns to a micron"):
        assert words in whole
    assert any(0x2800 < ord(c) <= 0x28FF for c in whole)


def test_the_picture_is_well_formed_and_marks_the_rim() -> None:
    """The SVG is well-formed XML, has a curve each, and marks the rim; names are escaped."""
    plan = make_plan(job(name='"<b>&"'))
    root = ET.fromstring(plan_svg(plan, demo()))
    names = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]

    assert sum(element.tag.endswith("polyline") for element in root.iter()) == 3
    assert "indicative" in names


def test_a_plot_of_nothing_and_of_one_height() -> None:
    """A curve that is zero, or level, still plots."""
    assert len(terminal_plot(Curve("level", [0.0, 1.0], [0.0, 0.0]), 0.9)) == 13
    ET.fromstring(svg_plot("level", "x", "y", [Curve("level", [0.0, 1.0], [3.0, 3.0])]))


def test_the_plot_follows_the_curve() -> None:
    """A rising line has its dots on the diagonal: low at the left, high at the right."""
    lines = terminal_plot(Curve("rise", [0.0, 1.0], [0.0, 1.0]), 1.0, width=10, height=5)
    columns = [line.split("│")[1] for line in lines[:5]]

    assert columns[0][-1] != "\u2800"
    assert columns[0][0] == "\u2800"
    assert columns[-1][0] != "\u2800"


def test_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`plan --json` prints one object only; `--svg` writes the picture; `--compare` adds the other."""
    first, second = tmp_path / "a.toml", tmp_path / "b.toml"
    first.write_text(text())
    second.write_text(text(post_offset='"131 mm"'))
    picture = tmp_path / "picture.svg"

    status = main(["plan", str(first), "--json", "--svg", str(picture), "--compare", str(second)])

    found = json.loads(capsys.readouterr().out)
    assert status == 0
    assert found["compared_with"]["setup"]["post_offset_m"] == 0.131
    assert found["setup"]["post_offset_m"] == 0.128
    assert picture.read_text().startswith("<svg")


def test_command_for_a_person(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Side by side, the text holds both offsets on one line."""
    first, second = tmp_path / "a.toml", tmp_path / "b.toml"
    first.write_text(text())
    second.write_text(text(post_offset='"131 mm"'))

    assert main(["plan", str(first), "--compare", str(second)]) == 0
    assert any("128 mm" in line and "131 mm" in line for line in capsys.readouterr().out.splitlines())


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"post_offset": '"-3 mm"'}, "setup.post_offset"),
        ({"post_offset": '"128"'}, "setup.post_offset"),
        ({"post_offset": '"240 mm"'}, "setup.post_offset"),
        ({"post_offset": '"nan mm"'}, "setup.post_offset"),
        ({"drive_point_height": '"450 mm"'}, "lap.drive_point_height"),
        ({"friction": "0"}, "setup.friction"),
        ({"focal_ratio": "-1"}, "mirror.focal_ratio"),
    ],
)
def test_bad_jobs_are_refused_by_field(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], changed: dict[str, str], field: str
) -> None:
    """A job that cannot be is refused with exit 2, one sentence with file and field, and no output."""
    path = tmp_path / "job.toml"
    path.write_text(text(**changed))

    assert main(["plan", str(path), "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert field in printed.err
    assert str(path) in printed.err


def test_a_picture_that_cannot_be_written_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A picture in a folder that is not there is refused with exit 2."""
    path = tmp_path / "job.toml"
    path.write_text(text())

    assert main(["plan", str(path), "--svg", str(tmp_path / "none" / "p.svg")]) == 2
    assert "--svg" in capsys.readouterr().err


def test_the_plan_in_inches() -> None:
    """The same plan in inches and pounds: 460 mm is 18.11 in, 2.51 kPa 0.36 psi, 189 N 42.5 lbf."""
    plan = make_plan(demo_job())
    metric, inch = "\n".join(plan_lines(plan)), "\n".join(plan_lines(plan, system=INCH))
    for words in ("460 mm", "2.51 kPa", "load 189 N", "offset mm"):
        assert words in metric
        assert words not in inch
    for words in ("18.11 in", "0.36 psi", "load 42.5 lbf", "offset in"):
        assert words in inch
        assert words not in metric
