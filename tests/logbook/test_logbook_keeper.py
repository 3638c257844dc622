"""The keeper takes records at once, whatever the disk does."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from benchctl.errors import LogbookError
from benchctl.logbook import keeper as keeper_module
from benchctl.logbook.keeper import RecordKeeper
from benchctl.logbook.reader import read
from benchctl.logbook.running import last_progress
from benchctl.logbook.traces import TraceGatherer, header_line, trace_path
from benchctl.logbook.writer import LogbookWriter
from tests.logbook.books import AT
from tests.logbook.test_logbook_disk import Disk

HEADER = header_line({"targets_per_turn": 6, "clock_tick_s": 0.001})


def texts(folder: Path) -> list[str]:
    return [entry.fields["text"] for entry in read(folder).entries]


@pytest.mark.parametrize("threaded", [False, True])
def test_records_are_kept_in_the_order_they_came(tmp_path: Path, threaded: bool) -> None:
    """With a thread or without, the order on disk is the order of the calls."""
    keeper = RecordKeeper(LogbookWriter(tmp_path), threaded=threaded)
    tickets = [keeper.keep("note", {"text": str(i)}, at=AT, mono_s=float(i)) for i in range(50)]
    assert tickets[-1].wait(10.0)
    assert keeper.close() == 0
    assert [entry.id for entry in read(tmp_path).entries] == [ticket.record_id for ticket in tickets]


def test_a_stuck_disk_never_holds_up_the_caller(tmp_path: Path) -> None:
    """While a write hangs, records are taken and their tickets say they are not kept; then they are."""
    free = threading.Event()
    disk = Disk()

    def hanging_write(descriptor: int, data: bytes) -> int:
        assert free.wait(20.0)
        return disk.write(descriptor, data)

    keeper = RecordKeeper(LogbookWriter(tmp_path, write=hanging_write))
    tickets = [keeper.keep("note", {"text": str(i)}, at=AT, mono_s=0.0) for i in range(3)]
    assert [ticket.kept for ticket in tickets] == [False, False, False]
    assert keeper.state.waiting == 3
    free.set()
    assert all(ticket.wait(10.0) for ticket in tickets)
    assert keeper.close() == 0


def test_a_full_disk_holds_records_and_tries_again_after_ten_seconds(tmp_path: Path) -> None:
    """Records wait in memory, are tried again ten seconds later and not before, and none is lost."""
    disk = Disk(room=0)
    keeper = RecordKeeper(LogbookWriter(tmp_path, write=disk.write), threaded=False)
    first = keeper.keep("note", {"text": "a"}, at=AT, mono_s=100.0)
    assert "no space left" in (keeper.state.trouble or "")
    disk.room = 10**9
    keeper.keep("note", {"text": "b"}, at=AT, mono_s=105.0)
    assert (first.kept, keeper.state.waiting) == (False, 2)
    keeper.poll(110.0)
    assert (first.kept, keeper.state.waiting, keeper.state.trouble) == (True, 0, None)
    assert texts(tmp_path) == ["a", "b"]


def test_the_thread_tries_again_by_itself(tmp_path: Path) -> None:
    """Nobody has to ask: the writer thread tries again until the disk has room."""
    disk = Disk(room=0)
    keeper = RecordKeeper(LogbookWriter(tmp_path, write=disk.write), retry_every_s=0.02)
    ticket = keeper.keep("note", {"text": "a"}, at=AT, mono_s=0.0)
    assert not ticket.wait(0.1)
    disk.room = 10**9
    assert ticket.wait(10.0)
    assert keeper.close() == 0


def test_the_thread_tries_at_once_when_asked(tmp_path: Path) -> None:
    """A person who has made room need not wait for the next try by itself."""
    disk = Disk(room=0)
    keeper = RecordKeeper(LogbookWriter(tmp_path, write=disk.write), retry_every_s=600.0)
    ticket = keeper.keep("note", {"text": "a"}, at=AT, mono_s=0.0)
    assert not ticket.wait(0.1)
    while keeper.state.trouble is None:
        assert not ticket.wait(0.01)
    disk.room = 10**9
    keeper.try_again(1.0)
    assert ticket.wait(10.0)
    assert keeper.close() == 0


def test_a_second_folder_takes_what_waits(tmp_path: Path) -> None:
    """A second path may be offered while the first is full; what waited goes there."""
    keeper = RecordKeeper(LogbookWriter(tmp_path / "a", write=Disk(room=0).write), threaded=False)
    keeper.keep("note", {"text": "a"}, at=AT, mono_s=0.0)
    assert keeper.move_to(tmp_path / "b")
    keeper.keep("note", {"text": "b"}, at=AT, mono_s=0.0)
    assert texts(tmp_path / "b") == ["a", "b"]
    assert keeper.folder == tmp_path / "b"


def test_a_second_folder_that_cannot_be_used_changes_nothing(tmp_path: Path) -> None:
    """A refused second path leaves what waits where it is."""
    (tmp_path / "file").write_text("x")
    keeper = RecordKeeper(LogbookWriter(tmp_path / "a", write=Disk(room=0).write), threaded=False)
    keeper.keep("note", {"text": "a"}, at=AT, mono_s=0.0)
    with pytest.raises(LogbookError):
        keeper.move_to(tmp_path / "file")
    assert keeper.state.waiting == 1
    assert keeper.folder == tmp_path / "a"


def test_closing_says_how_many_records_could_not_be_kept(tmp_path: Path) -> None:
    """What is still in memory at the end is counted, not forgotten in silence."""
    keeper = RecordKeeper(LogbookWriter(tmp_path, write=Disk(room=0).write))
    for _ in range(3):
        keeper.keep("note", {"text": "a"}, at=AT, mono_s=0.0)
    assert keeper.close() == 3


def test_a_record_that_can_never_be_written_raises_at_once(tmp_path: Path) -> None:
    """A defect shows where it is made, not in the writer thread."""
    keeper = RecordKeeper(LogbookWriter(tmp_path))
    with pytest.raises(TypeError):
        keeper.keep("note", {"text": object()}, at=AT, mono_s=0.0)
    assert keeper.close() == 0


def test_progress_is_written_at_most_every_four_seconds_and_within_five(tmp_path: Path) -> None:
    """Called every 0.1 s for 60 s, the last line on disk is never older than 5 s, with 16 lines at most."""
    keeper = RecordKeeper(LogbookWriter(tmp_path), threaded=False)
    segment = keeper.keep("segment_start", {}, at=AT, mono_s=0.0).record_id
    for tenth in range(1, 601):
        now_s = tenth / 10
        keeper.progress(segment, {"polishing_s": now_s}, at=AT, mono_s=now_s)
        entry = last_progress(tmp_path, segment)
        assert entry is not None
        assert now_s - entry.fields["polishing_s"] <= 5.0
    assert (tmp_path / "running" / f"{segment}.jsonl").read_bytes().count(b"\n") <= 16


@pytest.mark.parametrize("threaded", [False, True])
def test_a_trace_lies_beside_the_logbook_whole(tmp_path: Path, threaded: bool) -> None:
    """The trace of a segment is complete and in order once its end is kept."""
    keeper = RecordKeeper(LogbookWriter(tmp_path), threaded=threaded)
    segment = keeper.keep("segment_start", {}, at=AT, mono_s=0.0).record_id
    gatherer = TraceGatherer(HEADER, lambda batch: keeper.trace(segment, batch, 0.0))
    for i in range(100):
        gatherer.pulse(i * 0.1)
        gatherer.status(i * 0.1 + 0.05, 26.0, 25.9, 41.25)
    gatherer.flush()
    assert keeper.keep("segment_end", {"segment": segment}, at=AT, mono_s=10.0).wait(10.0)
    lines = trace_path(tmp_path, segment).read_text().splitlines()
    assert lines[0] + "\n" == HEADER
    assert lines[1] == '{"pulse_s": 0.0}'
    assert lines[2] == '{"status_s": 0.05, "set_rpm": 26.0, "table_rpm": 25.9, "load_percent": 41.25}'
    assert len(lines) == 201
    keeper.close()


def test_a_trace_is_cut_back_after_a_failed_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A batch that failed half-way is not in the trace twice after the second try."""
    disk = Disk(room=30)
    make = keeper_module.TraceFile
    monkeypatch.setattr(
        keeper_module, "TraceFile", lambda folder, segment: make(folder, segment, write=disk.write)
    )
    keeper = RecordKeeper(LogbookWriter(tmp_path), threaded=False)
    segment = keeper.keep("segment_start", {}, at=AT, mono_s=0.0).record_id
    batch = HEADER.encode() + b'{"pulse_s": 1.0}\n'
    keeper.trace(segment, batch, 0.0)
    assert keeper.state.trouble is not None
    disk.room = 10**9
    keeper.poll(20.0)
    assert trace_path(tmp_path, segment).read_bytes() == batch
    keeper.close()


def test_a_trace_that_waits_is_bounded_and_what_is_dropped_is_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Memory stays bounded while the disk is full; records are never dropped."""
    monkeypatch.setattr(keeper_module, "TRACE_LIMIT_BYTES", 1000)
    keeper = RecordKeeper(LogbookWriter(tmp_path, write=Disk(room=0).write), threaded=False)
    segment = keeper.keep("segment_start", {}, at=AT, mono_s=0.0).record_id
    for _ in range(5):
        keeper.trace(segment, b"x" * 400, 0.0)
    assert keeper.state.trace_bytes_dropped == 1200
    assert keeper.state.waiting == 1
    assert keeper.close() == 1


@pytest.mark.parametrize("name", ["../x", "/etc/passwd", "a\0b", "", "x" * 41, "CON", "a.b"])
def test_a_trace_name_is_never_a_path(tmp_path: Path, name: str) -> None:
    """Only a record's id names a trace."""
    with pytest.raises(ValueError, match="record id"):
        trace_path(tmp_path, name)


def test_a_trace_that_goes_on_in_another_folder_has_its_head_there_too(tmp_path: Path) -> None:
    """Each part can be replayed by itself: the first line says how lap, targets and post stood."""
    keeper = RecordKeeper(LogbookWriter(tmp_path / "a"), threaded=False)
    segment = keeper.keep("segment_start", {"mark": 3}, at=AT, mono_s=0.0).record_id
    gatherer = TraceGatherer(HEADER, lambda batch: keeper.trace(segment, batch, 0.0), every_s=0.5)
    gatherer.pulse(0.0)
    gatherer.pulse(1.0)
    assert keeper.move_to(tmp_path / "b")
    gatherer.pulse(2.0)
    gatherer.pulse(3.0)
    assert keeper.close() == 0
    for folder, pulses in (("a", ["0.0", "1.0"]), ("b", ["2.0", "3.0"])):
        head, *rest = trace_path(tmp_path / folder, segment).read_text().splitlines(keepends=True)
        assert head == HEADER
        assert [line.split(": ")[1].rstrip("}\n") for line in rest] == pulses
