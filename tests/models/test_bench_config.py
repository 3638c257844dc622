"""bench.toml: quantities with units, unknown keys refused, written and read back the same."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable
from itertools import count
from pathlib import Path

import pytest

from benchctl.errors import BadInput
from benchctl.models.bench_config import (
    BenchConfig,
    BoardPlan,
    as_toml,
    configured_bench,
    keep_bench,
)
from benchctl.models.config_place import config_path
from firmware_protocol.board import wiring
from firmware_protocol.settings import SETTING_TABLE

WHOLE = """\
port = "2e8a:0005:E6614103E7452D2F"
job = "C:\\\\mirrors\\\\\\"18 inch\\".toml"

[board]
id = "E6614103"
table_edges_per_turn = 24
lap_edges_per_turn = 12
ceiling = "40 rpm"
ramp_up = "0.5 rad/s2"
planned_stop = "1 rad/s^2"
fault_stop = "115 deg/s^2"
power_off_after = "4000 ms"
load_limit = "85 %"
load_zero_counts = 120
load_span_counts = 50000
full_scale = "60 rpm"
pedal_fitted = true
lap_sensor_fitted = false
readback_fitted = true
debounce = "2 ms"

[pins]
table_sensor = 14
"""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home of the program's own."""
    monkeypatch.setenv("BENCHCTL_HOME", str(tmp_path))
    return tmp_path


def test_no_file_no_bench(home: Path) -> None:
    """Without bench.toml no bench is configured."""
    assert configured_bench() is None


def test_units_become_si(home: Path) -> None:
    """Speeds are rpm, ramps rad/s2, times seconds, whatever unit was written."""
    config_path().write_text(WHOLE)
    bench = configured_bench()
    assert bench is not None
    assert bench.board.fault_stop_rad_s2 == pytest.approx(2.0071, abs=1e-4)
    assert bench.board.power_off_after_s == pytest.approx(4.0)
    assert bench.board.load_limit == pytest.approx(0.85)
    assert bench.board.debounce_s == pytest.approx(0.002)
    assert bench.pins is not None
    assert (bench.pins.table_sensor, bench.pins.lap_sensor) == (14, wiring.LAP_SENSOR)
    assert bench.job == 'C:\\mirrors\\"18 inch".toml'


def test_written_and_read_back(home: Path) -> None:
    """What is kept is read back the same, and the file before it is not lost."""
    first = BenchConfig(port="/dev/ttyACM0")
    second = BenchConfig.model_validate(tomllib.loads(WHOLE.replace("115 deg/s^2", "2 rad/s^2")))
    keep_bench(first)
    assert configured_bench() == first
    path = keep_bench(second)
    assert configured_bench() == second
    assert path.with_name("bench.toml.before").read_text() == as_toml(first)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"40 rpm"', '"500 rpm"', "board.ceiling: 500 rpm is outside 1 to 60 rpm"),
        ('"40 rpm"', "40", "board.ceiling: 40 has no unit"),
        ("ceiling =", "cieling =", "board.cieling: unknown key"),
        ("table_sensor = 14", "table_sensor = 7", "table_sensor and enable are both on GP7"),
        ("table_sensor = 14", "table_sensor = 29", "pins.table_sensor: 29 must be at most 28"),
        ('"4000 ms"', '"20 s"', "board.power_off_after: 20 s is outside 0.5 to 10 s"),
        ('"0.5 rad/s2"', '"0.5 rpm"', "board.ramp_up: '0.5 rpm' is not a ramp"),
        ("pedal_fitted = true", 'pedal_fitted = "yes"', "board.pedal_fitted"),
        ("[pins]", "[pins", "cannot be read"),
    ],
)
def test_refusals(home: Path, old: str, new: str, words: str) -> None:
    """A mistake in bench.toml is one sentence with the file, the key, the value and the limit."""
    assert old in WHOLE
    config_path().write_text(WHOLE.replace(old, new, 1))
    with pytest.raises(BadInput) as caught:
        configured_bench()
    assert words in str(caught.value)
    assert str(config_path()) in str(caught.value)


def test_a_folder_that_cannot_be_written(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where bench.toml cannot be written the refusal says so."""
    (home / "file").write_text("")
    monkeypatch.setenv("BENCHCTL_HOME", str(home / "file"))
    with pytest.raises(BadInput, match="cannot write"):
        keep_bench(BenchConfig(port="x"))


def ends_after(works: Callable[..., object], good: int) -> Callable[..., object]:
    """What works so many times, and then not any more."""
    calls = count()

    def step(*words: object, **named: object) -> object:
        if next(calls) >= good:
            raise OSError("the power went")
        return works(*words, **named)

    return step


def test_at_no_moment_is_there_no_bench_file(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Written anew and ended at any step, there is the old file or the new one: never none."""
    kept = [BenchConfig(port="old"), BenchConfig(port="new")]
    keep_bench(kept[0])

    for where, step in ((Path, "open"), (os, "fsync"), (Path, "replace")):
        for good in (0, 1):
            with monkeypatch.context() as broken:
                broken.setattr(where, step, ends_after(getattr(where, step), good))
                with pytest.raises(BadInput):
                    keep_bench(kept[1])
            assert configured_bench() == kept[0]
    keep_bench(kept[1])
    assert configured_bench() == kept[1]


def test_the_pins_are_those_of_the_board() -> None:
    """The pins that bench.toml starts from are those of the board's wiring file."""
    from benchctl.models.bench_config import Pins

    assert {name.upper(): pin for name, pin in Pins().model_dump().items()} == {
        name: value
        for name, value in vars(wiring).items()
        if name.isupper()
        and isinstance(value, int)
        and name not in ("UART_BAUD", "SPEED_PWM_HZ", "WATCHDOG_MS")
    }


def test_the_limits_are_those_of_the_board() -> None:
    """Each limit of the [board] part is that of the board's own table."""
    from benchctl.link.board_settings import SPELLINGS, shown

    for _, name, _, least, most in SETTING_TABLE:
        key = SPELLINGS[name].key
        if name == "service_lock" or most == 1:
            continue
        for value, fits in ((least, True), (most, True), (least - 1, False), (most + 1, False)):
            written: object = shown(name, value) if SPELLINGS[name].kind is not None else value
            try:
                BoardPlan.model_validate({key: written})
                taken = True
            except ValueError:
                taken = False
            assert taken == fits, (key, written)
