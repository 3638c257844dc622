"""The report: one file, complete, escaped, the same bytes each time, readable in a browser."""

from __future__ import annotations

import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest

from benchctl.errors import BadInput
from benchctl.logbook.charts import Line, line_chart, thin, ticks
from benchctl.logbook.reader import Logbook, parse, read
from benchctl.logbook.report import MarksPicture, MarkStep, report_html
from tests.logbook.books import Story, write_story

MARKS = MarksPicture(13, [MarkStep(3, 1 + 0j, 1j), MarkStep(9, 0.1j, 0.3 + 0j)], (1, 2))
VOID = {"meta", "br", "circle", "path", "polyline"}


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Logbook:
    folder = tmp_path_factory.mktemp("book")
    write_story(folder, 30)
    return read(folder)


class Page(HTMLParser):
    """Collects tags, attributes and text, and checks that every tag is closed in its turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_the_same_logbook_gives_the_same_bytes(book: Logbook) -> None:
    """Nothing in a report depends on when or where it was made."""
    assert report_html(book, marks=MARKS) == report_html(book, marks=MARKS)


def test_a_report_of_30_segments_is_below_300_kib(book: Logbook) -> None:
    """It fits in a mail."""
    assert len(report_html(book, marks=MARKS).encode()) < 300 * 1024


def test_a_report_runs_nothing_and_fetches_nothing(book: Logbook) -> None:
    """No scripts, no handlers, no addresses; the page forbids them itself as well."""
    page = Page(report_html(book, marks=MARKS))
    names = {tag for tag, _ in page.tags}
    assert not names & {"script", "link", "img", "iframe", "object", "embed", "a", "form"}
    for _, attrs in page.tags:
        assert not any(name.startswith("on") or name in ("src", "href", "style") for name in attrs)
    policy = [attrs["content"] for tag, attrs in page.tags if attrs.get("http-equiv")]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]


def test_every_picture_says_what_it_shows_and_has_its_table(book: Logbook) -> None:
    """Five pictures, each an image with a label, and a table for each part."""
    page = Page(report_html(book, marks=MARKS))
    pictures = [attrs for tag, attrs in page.tags if tag == "svg"]
    assert len(pictures) == 6
    assert all(attrs["role"] == "img" and len(attrs["aria-label"] or "") > 20 for attrs in pictures)
    assert sum(tag == "table" for tag, _ in page.tags) == 5


def test_every_segment_is_a_line_and_every_remark_is_there(book: Logbook) -> None:
    """Thirty rows of segments; the stalled one says so; notes, the decision and blemishes are told."""
    text = report_html(book, marks=MARKS)
    assert text.count("completed (simulated)") == 29
    for words in ("lap stalled (simulated)", "channels trimmed", "post 3 mm out", "sleek", "SIMULATED"):
        assert words in text


def test_an_empty_logbook_makes_a_report_that_says_so() -> None:
    """No segment, no look, no mark: each part says it in words."""
    page = Page(report_html(Logbook()))
    words = " ".join(page.words)
    for sentence in ("No segment yet", "Nobody has looked", "No marks were kept", "None was noted"):
        assert sentence in words


HOSTILE = "<script>alert(1)</script>\"'&\x1b]0;x\x07{{7*7}}\u202e</td>"


def test_hostile_names_and_notes_stay_text(tmp_path: Path) -> None:
    """A mirror, a note, a blemish and a kind full of markup, templates and escapes are shown as text."""
    story = Story(tmp_path)
    name = HOSTILE[:60]
    segment = story.segment(mirror=name, note=HOSTILE, stop_reason=HOSTILE[:40])
    sleek = {"kind": "sleek", "angle_deg": 1.0, "radius_m": 0.1, "note": HOSTILE}
    story.look(segment, mirror=name, blemishes=[sleek], note=HOSTILE)
    story.keep("note", {"text": HOSTILE, "lap_care": HOSTILE})
    story.keep("decision", {"decision": HOSTILE})
    story.writer.close()
    text = report_html(read(tmp_path))
    page = Page(text)
    assert "script" not in {tag for tag, _ in page.tags}
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", text)
    assert "{{7*7}}" in "".join(page.words)


def test_damage_is_told_in_the_report(tmp_path: Path) -> None:
    """A report on a damaged logbook says how much was set aside."""
    write_story(tmp_path, 3)
    data = (tmp_path / "logbook.jsonl").read_bytes().replace(b'"answered"', b'"answeret"', 1)
    assert "1 damaged places" in report_html(parse(data))


def test_an_unknown_mirror_is_refused(book: Logbook) -> None:
    """The sentence names the mirrors that there are."""
    with pytest.raises(BadInput, match="it has: Bench demo 460"):
        report_html(book, mirror="other")


@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (0.71, 0.98), (-3.0, 1200.0), (5.0, 5.0), (0.0, 1e-9)])
def test_ticks_are_round_and_inside(low: float, high: float) -> None:
    """Each tick is a whole number of steps of 1, 2 or 5 times a power of ten, inside the axis."""
    found = ticks(low, high)
    assert 1 <= len(found) <= 12
    assert all(low - 1e-9 <= tick <= high + 1e-9 for tick in found)


def test_thinning_keeps_every_peak() -> None:
    """Of 20,000 points at most two a column are left, and the one jerk is among them."""
    points = [(float(i), 0.9) for i in range(20_000)]
    points[12_345] = (12_345.0, 0.1)
    kept = thin(points)
    assert len(kept) <= 2 * 640
    assert (12_345.0, 0.1) in kept
    assert kept == sorted(kept)


def test_a_chart_of_one_point_is_drawn() -> None:
    """One segment is enough for a picture; none gives no picture."""
    assert "<circle" in line_chart([Line("a", [(1.0, 0.9)])], label="one", x_name="x", y_name="y")
    assert line_chart([], label="none", x_name="x", y_name="y") == ""


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no chromium here")
def test_a_browser_shows_and_prints_it(book: Logbook, tmp_path: Path) -> None:
    """Debian's chromium, headless, makes a PDF of a few pages of it, and a picture that is not blank."""
    page = tmp_path / "report.html"
    page.write_text(report_html(book, marks=MARKS), encoding="utf-8")
    base = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path}/profile"]
    for what in (f"--print-to-pdf={tmp_path}/report.pdf", f"--screenshot={tmp_path}/report.png"):
        subprocess.run([*base, what, page.as_uri()], check=True, capture_output=True, timeout=90)
    pdf = (tmp_path / "report.pdf").read_bytes()
    assert pdf.startswith(b"%PDF-")
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 8
    assert (tmp_path / "report.png").stat().st_size > 10_000
