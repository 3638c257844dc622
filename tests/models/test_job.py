"""A job file: what people write, and the one sentence they get when it is refused."""

from __future__ import annotations

import math
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchctl import units
from benchctl.errors import BadInput
from benchctl.models.job import demo_job, demo_job_text, parse_job, read_job


def test_demo_job_has_the_figures_of_its_file() -> None:
    """The demo job: 19.3 kg on the glass, nominal 2.5 kPa, radius of curvature 5152 mm."""
    job = demo_job()
    assert job.load_n == pytest.approx(19.3 * 9.80665)
    assert job.load_n / (3.14159265 * job.lap.radius_m**2) == pytest.approx(2.5e3, rel=0.01)
    assert job.mirror.curve_radius_m == pytest.approx(5.152)
    assert job.lap.land_fraction == pytest.approx(0.86, abs=0.005)


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('"26 rpm"', '"500 rpm"', "segment.work_speed: 500 rpm must be at most 60 rpm"),
        ('"26 rpm"', '"0 rpm"', "segment.work_speed: 0 rpm must be at least 1 rpm"),
        ('"26 rpm"', "26", "segment.work_speed: 26 has no unit"),
        ('"16 min"', '"-5 min"', "segment.length: -300 s must be at least 30 s"),
        ('"16 min"', '"nan min"', "segment.length: 'nan min' is not a time"),
        ('"16 min"', '"1e309 min"', "segment.length: '1e309 min' is not a finite time"),
        ("hole_diameter", "hole_diametre", "mirror.hole_diametre: unknown key"),
        ('"310 mm"', '"310 kg"', "lap.diameter: '310 kg' is not a length"),
        ('"310 mm"', '"3,10 m"', "lap.diameter: '3,10 m' is not a length"),
        ('"310 mm"', '"３１０ mm"', "lap.diameter: '３１０ mm' is not a length"),
        ('"borosilicate 3.3"', '"x\\u001b[2J\\u202e"', "mirror.glass: 'x?[2J?' is not known; use"),
        ('"128 mm"', '"900 mm"', "it must be below 385 mm"),
        ("5.6", "nan", "mirror.focal_ratio"),
        ("5.6", "inf", "mirror.focal_ratio"),
        ("schema = 1", "schema = 2", "schema"),
        ("[lap]", "[lap", "not valid TOML"),
        ('"2 kg"]', '"-2 kg"]', "setup.weights.5"),
        ('"6 rpm"', '"14.5 rpm"', "step_speed must lie between creep_speed and work_speed"),
        ('wet_call = "60 s"', 'wet_call = "9 min"\n', ""),
    ],
)
def test_a_bad_job_gets_one_sentence(old: str, new: str, sentence: str) -> None:
    """What, where, the limit and what to do, on one line, with no control character in it."""
    text = demo_job_text()
    assert old in text
    if not sentence:
        parse_job(text.replace(old, new, 1).encode(), "job.toml")
        return
    with pytest.raises(BadInput) as refusal:
        parse_job(text.replace(old, new, 1).encode(), "job.toml")
    message = str(refusal.value)
    assert message.startswith("job.toml: ")
    assert sentence in message
    assert message.isprintable()


def test_a_job_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    """A file that is missing, a folder, not text, or far too large is refused by name."""
    with pytest.raises(BadInput, match=r"cannot read job file .*nothing\.toml"):
        read_job(tmp_path / "nothing.toml")
    with pytest.raises(BadInput, match="cannot read job file"):
        read_job(tmp_path)
    binary = tmp_path / "b.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadInput, match="UTF-8"):
        read_job(binary)
    binary.write_bytes(b"#" * 70000)
    with pytest.raises(BadInput, match="too large"):
        read_job(binary)


@pytest.mark.parametrize("minutes", [-3.0, 0.0, 0.4, 241.0, float("nan"), float("inf")])
def test_minutes_out_of_range_are_refused(minutes: float) -> None:
    """--minutes is checked like the file: never clamped."""
    with pytest.raises(BadInput, match=r"--minutes: segment\.length"):
        demo_job().with_minutes(minutes)


@given(st.binary(max_size=400))
def test_any_bytes_are_refused_or_read(raw: bytes) -> None:
    """No file content raises anything but BadInput."""
    with pytest.raises(BadInput):
        parse_job(raw, "job.toml")


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("460 mm", units.LENGTH, 0.46),
        ("18 in", units.LENGTH, 0.4572),
        ("25 lb", units.MASS, 11.33980925),
        ("0.36 psi", units.PRESSURE, 2482.1126254),
        ("12 g / 100 ml", units.CONCENTRATION, 120.0),
        ("6e-13 1/Pa", units.INVERSE_PRESSURE, 6e-13),
        ("0.3 N m", units.TORQUE, 0.3),
        ("48 %", units.SHARE, 0.48),
        ("68 degF", units.TEMPERATURE, 20.0),
        ("1 lbf", units.FORCE, 4.4482216152605),
    ],
)
def test_quantities_convert_exactly(text: str, kind: units.Kind, value: float) -> None:
    """The international inch and pound, standard gravity: exact definitions of NIST SP 811, appendix B
    (values from memory; 0.0254 m, 0.45359237 kg and 4.4482216152605 N are exact)."""
    assert units.read(text, kind) == pytest.approx(value, rel=1e-9)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    """A quantity is a finite number or BadInput, whatever was typed; the message can be shown."""
    try:
        value = units.read(text, units.LENGTH)
    except units.BadInput as refusal:
        assert not {unicodedata.category(character) for character in str(refusal)} & {"Cc", "Zl", "Zp"}
    else:
        assert math.isfinite(value)


@pytest.mark.parametrize("evil", ["9**9**9**9 m", "1 m**9999999", "__import__('os')", "1 (m", "5 exec"])
def test_no_expression_is_evaluated(evil: str) -> None:
    """A quantity is a number and units, not a sum to be worked out or code to be run."""
    with pytest.raises(BadInput):
        units.read(evil, units.LENGTH)
