"""Text from outside - names, notes, a device's words - is shown, never obeyed; models take nothing else."""

from __future__ import annotations

import re
from pathlib import Path

import pydantic
import pytest

from benchctl.cli import main
from benchctl.errors import BadInput
from benchctl.models.job import demo_job_text, parse_job
from benchctl.models.quantities import Record
from benchctl.units import printable
from tests.security.models import all_models

TITLE, LINK, CLIP = "\x1b]0;owned\x07", "\x1b]8;;http://x\x1b\\", "\x1b]52;c;b3duZWQ=\x07"
CLEAR, C1, BIDI, MARKUP = "\x1b[2J", "\x9b31m", "\u202e\u2066", "[@click=app.quit]x[/]"
HOSTILE = TITLE + LINK + CLIP + CLEAR + C1 + BIDI + MARKUP
STEERS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


@pytest.fixture
def hostile_job(tmp_path: Path) -> Path:
    """The demo job with a mirror and a lap whose names would steer a terminal."""
    quoted = "".join(f"\\u{ord(letter):04x}" for letter in HOSTILE)
    text = demo_job_text().replace('"Bench demo 460"', f'"{quoted}"').replace('"310 plaster"', f'"{quoted}"')
    path = tmp_path / "job.toml"
    path.write_text(text)
    return path


@pytest.mark.timeout(200)
def test_no_name_reaches_a_terminal_as_an_escape(
    hostile_job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever a mirror and a lap are called, plan, run and list print nothing that steers a terminal."""
    log = ["--logbook", str(tmp_path / "log")]
    run = ["run", str(hostile_job), "--headless", "--simulated", "--pace", "max", "--minutes", "1.5", *log]
    for words in (["plan", str(hostile_job)], run, [*run, "--json"], ["logbook", "list", *log]):
        main(words)
        said = capsys.readouterr()
        assert not STEERS.search(said.out + said.err), words


@pytest.mark.parametrize("part", [TITLE, LINK, CLIP, CLEAR, C1, BIDI, "a\nb", "a\rb", "\x00", "\x7f"])
def test_shown_text_steers_nothing(part: str) -> None:
    """Title, link, clipboard, clear, C1, direction and line feeds are taken out of whatever is shown."""
    assert not STEERS.search(printable(part))
    assert "\n" not in printable(part)


def test_models_are_strict() -> None:
    """Every model refuses unknown fields, changes after the fact, NaN and infinity."""
    models = all_models()
    assert len(models) > 10
    for model in models:
        assert issubclass(model, Record), f"{model.__name__} is no Record"
        config = model.model_config
        assert (config["extra"], config["frozen"], config["allow_inf_nan"]) == ("forbid", True, False)


@pytest.mark.parametrize(
    "value", ["nan", "inf", "-inf", "1e309", "'１２ rpm'", "'1,5 rpm'", "true", "[[[]]]"]
)
def test_a_number_that_is_none_is_refused(value: str) -> None:
    """NaN, infinity, too large a power, digits of other scripts and commas are no speeds."""
    text = demo_job_text().replace('work_speed = "26 rpm"', f"work_speed = {value}")
    with pytest.raises(BadInput, match="work_speed"):
        parse_job(text.encode(), "here")


def test_a_record_refuses_what_it_does_not_know() -> None:
    """The base of all models is what makes them strict."""

    class Pair(Record):
        number: float = 0.0

    for fields in ({"number": float("nan")}, {"number": float("inf")}, {"other": 1}):
        with pytest.raises(pydantic.ValidationError):
            Pair.model_validate(fields)
