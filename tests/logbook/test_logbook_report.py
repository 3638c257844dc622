"""The report: one file, complete, escaped, the same bytes each time, readable in a browser."""

from __future__ import annotations

import math
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from benchctl.errors import BadInput
from benchctl.logbook.blemishes import told_apart
from benchctl.logbook.charts import Line, line_chart, thin, ticks
from benchctl.logbook.dials import Spot, glass_map, rim_dial
from benchctl.logbook.reader import Logbook, parse, read
from benchctl.logbook.report import MarksPicture, MarkStep, report_html
from benchctl.logbook.segments import inspections, segments
from tests.logbook.books import Story, write_story
from tests.logbook.browser import MISSING, PATH, browser

MARKS = MarksPicture(13, [MarkStep(3, 1 + 0j, 1j), MarkStep(9, 0.1j, 0.3 + 0j)], (1, 2))
SAMPLES = Path(__file__).parent / "samples"
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
    """Eight pictures and a sign for each blemish, all labelled; a table for each part."""
    page = Page(report_html(book, marks=MARKS))
    pictures = [attrs for tag, attrs in page.tags if tag == "svg"]
    signs = [attrs for attrs in pictures if (attrs["aria-label"] or "").startswith("sign of")]
    assert all(attrs["role"] == "img" for attrs in pictures)
    assert [attrs["aria-label"] for attrs in signs] == ["sign of sleek"]
    assert sum(len(attrs["aria-label"] or "") > 20 for attrs in pictures) == 8
    assert sum(tag == "table" for tag, _ in page.tags) == 6


def test_the_work_by_zone_is_the_sum_of_the_segments(book: Logbook) -> None:
    """The depth of each zone, summed here over the records, stands in its table."""
    page = Page(report_html(book, marks=MARKS))
    sums = [math.fsum(one.fields["zone_depths_m"][zone] for one in segments(book)) for zone in range(6)]
    at = [word.strip() for word in page.words].index("Beside the mean of the zones")
    told = [word.strip() for word in page.words[at + 1 :] if word.strip()][: 6 * 4]
    assert [float(word) for word in told[1::4]] == [round(total * 1e6, 2) for total in sums]


def test_what_was_seen_at_one_place_in_several_looks_is_one_blemish(tmp_path: Path) -> None:
    """A sleek seen twice 3 mm apart is one; another kind, or one 20 mm off, is another; new is ringed."""
    story = Story(tmp_path)
    sleek = {"kind": "sleek", "angle_deg": 130.0, "radius_m": 0.095}
    near, far = sleek | {"radius_m": 0.098, "note": "longer"}, sleek | {"radius_m": 0.115}
    story.look(story.segment(), blemishes=[sleek])
    story.look(story.segment(), blemishes=[near, far, sleek | {"kind": "pit"}])
    story.writer.close()
    found = told_apart(inspections(read(tmp_path)))
    assert [(one.kind, one.looks, one.new, one.in_last) for one in found] == [
        ("sleek", 2, False, True),
        ("sleek", 1, True, True),
        ("pit", 1, True, True),
    ]
    assert (found[0].radius_m, found[0].note) == (0.098, "longer")
    text = report_html(read(tmp_path))
    assert text.count('r="9" class="outline"') == 2


def test_a_place_on_the_map_is_where_the_angle_says() -> None:
    """90 degrees from mark 1, clockwise from the front, lies at the right; half the radius half way out."""
    drawn = glass_map([Spot("1", "stain", 90.0, 0.1)], 0.2, 0.0, label="one stain, at the right")
    assert f'd="M{155 + 60:.1f} {155:.1f}m-4 -4' in drawn


def test_the_dial_shows_the_print_that_is_left() -> None:
    """A whole print lies on the inner ring, none of it in the middle."""
    drawn = rim_dial(13, {1}, 1, [("two-fold", [1 + 0j, 0j])], label="one mark used of thirteen")
    assert 'points="155.0,77.0 155.0,155.0"' in drawn


def test_every_segment_is_a_line_and_every_remark_is_there(book: Logbook) -> None:
    """Thirty rows of segments; the stalled one says so; notes, the decision and blemishes are told."""
    text = report_html(book, marks=MARKS)
    assert text.count("completed (simulated)") == 29
    for words in ("lap stalled (simulated)", "channels trimmed", "post 3 mm out", "sleek", "SIMULATED"):
        assert words in text


def test_lengths_and_forces_stand_in_the_units_chosen(book: Logbook) -> None:
    """128 mm and 189 N are 5.04 in and 42.6 lbf (1 in = 25.4 mm, 1 lbf = 4.4482216 N, both by definition)."""
    metric, inch = (" ".join(Page(report_html(book, system=name)).words) for name in ("metric", "inch"))
    for word in ("Offset mm", "128.0", "Weight N", "189", "95 mm"):
        assert f" {word} " in " ".join(metric.split())
    for word in ("Offset in", f"{128 / 25.4:.2f}", "Weight lbf", f"{189.3 / 4.4482216:.1f}", "3.74 in"):
        assert f" {word} " in " ".join(inch.split())


def test_remarks_tell_presses_decisions_and_what_was_said_of_a_look() -> None:
    """From the kept logbook with every kind of record; a correction with its reason as well."""
    text = " ".join(" ".join(Page(report_html(read(SAMPLES / "schema-1-whole"))).words).split())
    assert "cold press 22 min at 9.0 kg, completed" in text
    assert "decision post 3 mm out (the edge looks grey); advised was: post 3 mm in" in text
    assert "look one stands out" in text
    assert "correction note: lamp was low (misread the card)" in text


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


@pytest.mark.skipif(PATH is None, reason=MISSING)
def test_a_browser_shows_and_prints_it(book: Logbook, tmp_path: Path) -> None:
    """A real browser asks for the file alone, complains of nothing, shows all pictures, prints pages."""
    path = tmp_path / "report.html"
    path.write_text(report_html(book, marks=MARKS), encoding="utf-8")
    with browser(tmp_path / "profile") as page:
        page.open(path)
        assert page.asked == [path.as_uri()]
        assert page.complaints == []
        assert page.value("document.title") == "Bench demo 460: polishing report"
        sizes = page.value(
            "[...document.querySelectorAll('svg')].map(one => one.getBoundingClientRect().width)"
        )
        assert len(sizes) == 9
        assert min(sizes) > 10
        for width, media in ((1060, "screen"), (700, "print")):
            assert page.picture(width, media).startswith(b"\x89PNG")
            assert page.value("document.documentElement.scrollWidth") <= width
        pdf = page.pdf()
    assert pdf.startswith(b"%PDF-")
    assert 3 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 9


@pytest.mark.skipif(PATH is None, reason=MISSING)
def test_a_browser_would_tell(tmp_path: Path) -> None:
    """The check itself: a page that fetches a picture and runs a wrong script is found out."""
    path = tmp_path / "bad.html"
    path.write_text("<p>x</p><img src='other.png'><script>nothing()</script>", encoding="utf-8")
    with browser(tmp_path / "profile") as page:
        page.open(path)
        assert len(page.asked) == 2
        assert page.complaints


@pytest.mark.skipif(PATH is None, reason=MISSING)
def test_hostile_text_runs_nothing_in_a_browser(tmp_path: Path) -> None:
    """Markup in names and notes is shown as text: no request, no script, no element of its own."""
    story = Story(tmp_path / "book")
    attack = "<img src=x onerror=document.title='run'><script>document.title='run'</script>"
    segment = story.segment(mirror="<b>x</b>", note=attack)
    blemish = {"kind": "sleek", "angle_deg": 1.0, "radius_m": 0.1, "note": attack}
    story.look(segment, mirror="<b>x</b>", note=attack, blemishes=[blemish])
    story.keep("note", {"text": attack})
    story.writer.close()
    path = tmp_path / "report.html"
    path.write_text(report_html(read(tmp_path / "book")), encoding="utf-8")
    with browser(tmp_path / "profile") as page:
        page.open(path)
        assert page.asked == [path.as_uri()]
        assert page.value("document.title") == "<b>x</b>: polishing report"
        assert page.value("document.querySelectorAll('img, script, b').length") == 0
        assert page.value("document.body.innerText").count(attack) == 3
