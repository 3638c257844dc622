"""`benchctl job`: a mirror's file by questions, what is shown of it, laps and marks told to the logbook."""

from __future__ import annotations

import fcntl
import json
import os
import pty
import signal
import subprocess
import sys
import termios
from pathlib import Path

import pytest

from benchctl.logbook.reader import read
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.job import read_job
from tests.cli.served import Shell
from tests.logbook.books import AT

ANSWERS = ("Pine 18", "460 mm", "f/5.6", "", "", "62 mm")


def typed(*lines: str) -> str:
    return "".join(f"{line}\n" for line in lines)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A fresh folder to work in."""
    folder = tmp_path / "mirrors"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def pine(shell: Shell, here: Path) -> Path:
    """A file made by questions."""
    assert shell.run("job", "new", typed=typed(*ANSWERS)) == 0, shell.err
    return here / "pine-18.toml"


def test_a_file_is_made_from_a_few_answers(shell: Shell, pine: Path) -> None:
    """Whatever is not answered takes its default; the file is a job that can be run, with units in it."""
    job = read_job(pine)
    assert (job.mirror.name, job.mirror.hole_diameter_m) == ("Pine 18", pytest.approx(0.062))
    assert 0.6 <= job.lap.diameter_m / job.mirror.diameter_m <= 0.8
    assert 1.5e3 < job.load_n / (3.14159 * job.lap.radius_m**2) < 4e3
    assert 0.50 < job.setup.post_offset_m / job.mirror.radius_m < 0.60
    assert job.logbook == str(pine.parent / "pine-18-logbook")
    assert 'diameter = "460 mm"' in pine.read_text()


def test_answers_keep_the_units_they_were_typed_in(shell: Shell, here: Path) -> None:
    """Inches stay inches in the file; with --units inch the defaults come in inches and pounds."""
    assert shell.run("job", "new", "x.toml", "--units", "inch", typed=typed("X", "18.1 in", "5")) == 0
    text = (here / "x.toml").read_text()
    assert 'diameter = "18.1 in"' in text
    assert 'weights = ["5 lb"' in text
    assert " mm" not in text
    assert read_job(here / "x.toml").mirror.diameter_m == pytest.approx(18.1 * 0.0254)


def test_several_laps_and_weights_as_pieces(shell: Shell, here: Path) -> None:
    """Each lap is asked for; the one in use is named; pieces are counted out."""
    lap = ("big", "12 in", "", "", "", "", "", "", "10 lb")
    other = ("small", "200 mm", "", "", "", "", "", "", "3 kg")
    answers = (*ANSWERS, "", *lap, "yes", *other, "no", "small", "2 x 2.5 kg, 1 kg", "no", "70 mm")
    assert shell.run("job", "new", "two.toml", typed=typed(*answers)) == 0, shell.err
    job = read_job(here / "two.toml")
    assert ([one.name for one in job.laps], job.lap.name) == (["big", "small"], "small")
    assert [one.mass_kg for one in job.setup.pieces] == [2.5, 2.5, 1.0]
    assert not job.setup.weights_captured


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        (("X", "460"), "diameter: '460' needs a unit that fits a length"),
        (("X", "460 kg"), "diameter: '460 kg' is not a length"),
        (("X", "4 mm"), "diameter: 0.004 m must be at least 0.05 m"),
        (("X", "460 mm", "fast"), "'fast' is not a number"),
        (("X", "460 mm", "nan"), "focal_ratio"),
        (("X", "460 mm", "５"), "'５' is not a number"),
        (("X", "460 mm", "5", "window glass"), "'window glass' is not known; answer borosilicate 3.3 or"),
        (("X", "460 mm", "5", "", "", "500 mm"), "hole_diameter must be smaller than the mirror's diameter"),
        (("X",), "its diameter: no answer came"),
        ((), "name of the mirror: no answer came"),
        (("\x1b[2J" + "y" * 80, "460 mm"), "name"),
    ],
)
def test_a_bad_answer_in_a_pipe_is_refused_and_no_file_is_made(
    shell: Shell, here: Path, lines: tuple[str, ...], sentence: str
) -> None:
    """Exit 2, a sentence that can be shown, nothing written."""
    assert shell.run("job", "new", "x.toml", typed=typed(*lines)) == 2
    last = shell.err.splitlines()[-1]
    assert sentence in last
    assert last.isprintable()
    assert list(here.iterdir()) == []


def test_a_file_that_is_there_is_never_overwritten(shell: Shell, pine: Path) -> None:
    """Neither by its own name nor by the mirror's; a name that is taken is refused before other questions."""
    before = pine.read_bytes()
    assert shell.run("job", "new", "pine-18.toml", typed=typed(*ANSWERS)) == 2
    assert "is not overwritten" in shell.err
    assert shell.run("job", "new", typed=typed("Pine 18")) == 2
    assert "pine-18.toml is there already" in shell.err
    assert pine.read_bytes() == before


class Interview:
    """`job new` on a terminal of its own."""

    def __init__(self, here: Path, *arguments: str) -> None:
        self._keys, theirs = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "benchctl", "job", "new", *arguments],
            stdin=theirs,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            env={**os.environ, "BENCHCTL_HOME": str(here / "home")},
            preexec_fn=_own_terminal,
        )
        os.close(theirs)
        self.said = ""

    def type(self, *lines: str, end: bytes = b"") -> None:
        """Type lines, and then other keys."""
        os.write(self._keys, typed(*lines).encode() + end)

    def until(self, words: str) -> None:
        """Wait for words."""
        assert self.process.stderr is not None
        while words not in self.said:
            some = os.read(self.process.stderr.fileno(), 4096)
            assert some, f"{words!r} did not come: {self.said}"
            self.said += some.decode()

    def end(self) -> int:
        """The exit status, once it has ended."""
        _, rest = self.process.communicate(timeout=60)
        self.said += rest.decode()
        os.close(self._keys)
        return self.process.returncode


def _own_terminal() -> None:
    """In the child: its standard input becomes the terminal by which a typed Ctrl-C is sent.

    A test run in the background of a shell ignores that signal, and so would what it starts.
    """
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    os.setsid()
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


def test_on_a_terminal_a_bad_answer_is_asked_again(here: Path) -> None:
    """Nothing of what was answered before is lost by a slip."""
    asked = Interview(here, "t.toml")
    asked.type("T", "460", "460 mm", "fast", "5.6", *[""] * 40)
    assert asked.end() == 0, asked.said
    assert "'460' needs a unit" in asked.said
    assert read_job(here / "t.toml").mirror.focal_ratio == 5.6


@pytest.mark.parametrize("how", ["end of input", "Ctrl-C", "killed"])
def test_answers_broken_off_are_offered_again(here: Path, how: str) -> None:
    """They are on disk after each one, each lap with its own; no file is made before all are given."""
    lap = ("big", "12 in", "", "", "", "", "", "", "10 lb")
    first = ("T", "460 mm", "5.6", "", "", "62 mm", "", *lap, "y", "small", "200 mm")
    asked = Interview(here, "t.toml")
    asked.type(*first)
    asked.until("Name of the lap [lap 2]: Diameter of the lap [315 mm]: Thickness of its base")
    if how == "killed":
        asked.process.kill()
        asked.end()
    else:
        asked.type(end=b"\x04" if how == "end of input" else b"\x03")
        assert asked.end() == 2
        assert "your answers are kept, `benchctl job new` goes on with them" in asked.said.splitlines()[-1]
    assert not (here / "t.toml").exists()

    asked = Interview(here, "t.toml")
    asked.type("", *[""] * 60)
    assert asked.end() == 0, asked.said
    assert f"{len(first)} answers on T are kept from before." in asked.said
    job = read_job(here / "t.toml")
    assert [(one.name, round(one.diameter_m, 3)) for one in job.laps] == [("big", 0.305), ("small", 0.2)]
    assert job.mirror.hole_diameter_m == pytest.approx(0.062)

    asked = Interview(here, "u.toml")
    asked.type(end=b"\x04")
    assert asked.end() == 2
    assert "kept from before" not in asked.said
    assert asked.said.endswith("no answer came; no file was written\n")


def test_answers_of_before_may_be_dropped(here: Path) -> None:
    """A person who wants none of them says so, and is asked from the beginning."""
    asked = Interview(here, "t.toml")
    asked.type("T", "460 mm", end=b"\x04")
    assert asked.end() == 2
    asked = Interview(here, "t.toml")
    asked.type("no", "U", "300 mm", "6", *[""] * 40)
    assert asked.end() == 0, asked.said
    assert read_job(here / "t.toml").mirror.name == "U"


def test_answers_that_cannot_be_kept_are_printed(here: Path) -> None:
    """Nothing is lost where the home cannot be written."""
    (here / "home").write_text("a file where a folder is wanted")
    asked = Interview(here, "t.toml")
    asked.type("T", "460 mm", end=b"\x04")
    assert asked.end() == 2
    assert "the answers cannot be kept (" in asked.said
    assert "mirror.name = T; mirror.diameter = 460 mm" in asked.said


def segment(folder: Path, mark: int, lap: str, *, turns: float = 416.0, spin: float = 0.9) -> None:
    """A segment's end, kept in the folder's logbook."""
    writer = LogbookWriter(folder)
    fields = {
        "mirror": "Pine 18", "lap": lap, "mark": mark, "table_turns": turns, "useful_turns": turns,
        "polishing_s": turns / 26 * 60, "planned_s": 960.0, "work_rpm": 26.0, "load_n": 189.0,
        "post_offset_m": 0.13, "spin_ratio_mean": spin, "load_mean_percent": 40.0, "lap_turns": turns * spin,
        "outcome": "completed", "stop_kind": "planned", "wet_down": "answered",
    }  # fmt: skip
    writer.append("segment_end", {"segment": f"seg-{mark}"} | fields, at=AT, mono_s=0.0)
    writer.close()


def test_care_of_a_lap_is_told_and_asked_for(shell: Shell, pine: Path) -> None:
    """Trimmed, brushed and remade are kept with the lap; the question tells spin before and after it."""
    book = pine.parent / "pine-18-logbook"
    segment(book, 1, "lap 1", spin=0.8)
    assert shell.run("job", "trimmed", "pine-18.toml", "--note", "channels cut to 4 mm") == 0
    segment(book, 2, "lap 1", spin=0.9)
    segment(book, 3, "another lap", spin=0.1)
    assert shell.run("job", "remade", "pine-18.toml") == 0
    remade = read(book).entries[-1].fields
    assert remade["lap_facts"]["diameter_m"] == pytest.approx(0.315)
    assert shell.run("logbook", "ask", "lap", "--json", "--logbook", str(book)) == 0
    rows = json.loads(shell.out)["rows"]
    assert [(row["lap_care"], row["spin_before"], row["spin_after"]) for row in rows] == [
        ("trimmed", 0.8, 0.9),
        ("remade", 0.85, None),
    ]
    assert shell.run("job", "show", "pine-18.toml") == 0
    assert "1 segment ago: channels cut to 4 mm" in shell.out


def test_a_lap_that_the_file_does_not_have_is_refused(shell: Shell, pine: Path) -> None:
    """The sentence names the laps there are; nothing is kept."""
    assert shell.run("job", "brushed", "pine-18.toml", "--lap", "big\x1b[2J") == 2
    assert "there are lap 1" in shell.err
    assert "\x1b" not in shell.err
    assert not (pine.parent / "pine-18-logbook").exists()


def test_the_same_mark_is_offered_until_it_is_polished_at(shell: Shell, pine: Path) -> None:
    """Asking twice draws once; another mark wants a reason, and both are kept with seed and candidates."""
    assert shell.run("job", "mark", "pine-18.toml", "--json") == 0
    first = json.loads(shell.out)["mark"]
    assert shell.run("job", "mark", "pine-18.toml", "--json") == 0
    assert json.loads(shell.out)["mark"] == first
    other = first % 13 + 1
    for words, sentence in (
        (("--take", str(other)), "needs a reason"),
        (("--take", "14", "--why", "x"), "the marks are 1 to 13"),
        (("--why", "x"), "--why goes with --take"),
        (("--used",), "no segment was polished at a mark yet"),
    ):
        assert shell.run("job", "mark", "pine-18.toml", *words) == 2
        assert sentence in shell.err
    assert shell.run("job", "mark", "pine-18.toml", "--take", str(other), "--why", "chip there") == 0
    draws = [entry.fields for entry in read(pine.parent / "pine-18-logbook").of_kind("mark_draw")]
    assert [(one["mark"], one["override_of"], one["why"]) for one in draws] == [
        (first, None, ""),
        (other, first, "chip there"),
    ]
    assert draws[1]["seed"] == draws[0]["seed"]
    assert shell.run("logbook", "ask", "marks", "--logbook", "pine-18-logbook") == 0
    assert f"Mark {other} instead of {first}: chip there." in shell.out
    assert "2 of 2 draws come out again from their seed and candidates." in shell.out


def test_the_person_decides_what_a_short_segment_does_to_its_mark(shell: Shell, pine: Path) -> None:
    """By the rule it is offered again; told used, another one is drawn; told again, it comes back."""
    book = pine.parent / "pine-18-logbook"
    segment(book, 7, "lap 1", turns=100.0)
    assert shell.run("job", "mark", "pine-18.toml") == 0
    assert "Mark 7 again" in shell.out
    assert shell.run("job", "mark", "pine-18.toml", "--used", "--json") == 0
    assert json.loads(shell.out)["mark"] != 7
    assert shell.run("job", "mark", "pine-18.toml", "--again", "--json") == 0
    assert json.loads(shell.out)["mark"] == 7
    assert shell.run("job", "mark", "pine-18.toml", "--json") == 0
    assert json.loads(shell.out)["mark"] == 7
    assert read(book).sound


def test_two_mirrors_keep_to_themselves(shell: Shell, pine: Path) -> None:
    """Each has its own logbook folder, so a mark drawn for one is not drawn for the other."""
    assert shell.run("job", "new", typed=typed("Oak 12", "305 mm", "6")) == 0
    assert shell.run("job", "mark", "pine-18.toml") == 0
    assert (pine.parent / "pine-18-logbook").exists()
    assert not (pine.parent / "oak-12-logbook").exists()
    assert shell.run("job", "show", "oak-12.toml") == 0
    assert "ends in 13 segments" in shell.out


def test_show_as_json_is_one_object_in_si(shell: Shell, pine: Path) -> None:
    """For programs: the whole job, the laps' history, the marks."""
    assert shell.run("job", "show", "pine-18.toml", "--json") == 0
    facts = json.loads(shell.out)
    assert facts["job"]["mirror"]["diameter_m"] == 0.46
    assert facts["marks"]["unused"] == list(range(1, 14))
    assert facts["last_press"] is None
