"""The disk fails, fills up, takes half, is a link, or belongs to another program."""

from __future__ import annotations

import errno
import os
import random
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from benchctl.errors import LogbookError
from benchctl.logbook import files
from benchctl.logbook.reader import FILE_NAME, read
from benchctl.logbook.writer import LogbookWriter
from tests.logbook.books import AT, tokens, write_notes

linux = pytest.mark.skipif(sys.platform != "linux", reason="needs /dev/full or /proc")


class Disk:
    """A disk that takes at most `take` bytes a write and fails when `room` is used up."""

    def __init__(self, room: int = 10**9, take: int = 10**9) -> None:
        self.room, self.take, self.syncs, self.sync_fails = room, take, 0, 0

    def write(self, descriptor: int, data: bytes) -> int:
        if self.room <= 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        taken = os.write(descriptor, data[: min(self.take, self.room)])
        self.room -= taken
        return taken

    def sync(self, descriptor: int) -> None:
        if self.sync_fails:
            self.sync_fails -= 1
            raise OSError(errno.EIO, "Input/output error")
        self.syncs += 1
        os.fsync(descriptor)


def writer_on(disk: Disk, folder: Path) -> LogbookWriter:
    return LogbookWriter(folder, token=tokens(), write=disk.write, sync=disk.sync)  # type: ignore[arg-type]


def test_each_record_is_one_write_and_one_sync(tmp_path: Path) -> None:
    """A record is kept by one write of one line and one sync."""
    writes: list[bytes] = []
    disk = Disk()

    def write(descriptor: int, data: bytes) -> int:
        writes.append(data)
        return disk.write(descriptor, data)

    writer = LogbookWriter(tmp_path, write=write, sync=disk.sync)
    for i in range(5):
        writer.append("note", {"text": str(i)}, at=AT, mono_s=1.0)
    assert (len(writes), disk.syncs) == (5, 5)
    assert all(data.endswith(b"\n") and data.count(b"\n") == 1 for data in writes)


def test_short_writes_are_finished(tmp_path: Path) -> None:
    """A system that takes seven bytes at a time still gets the whole record."""
    writer = writer_on(Disk(take=7), tmp_path)
    writer.append("note", {"text": "long enough"}, at=AT, mono_s=1.0)
    assert read(tmp_path).sound


@pytest.mark.parametrize("room", range(0, 700, 13))
def test_a_full_disk_loses_no_kept_record_and_a_second_try_succeeds(tmp_path: Path, room: int) -> None:
    """Wherever in a record the disk fills up, what was kept stays, and a second try is complete."""
    disk = Disk(room=room)
    writer = writer_on(disk, tmp_path)
    for i in range(5):
        identity = f"note-{i}"
        try:
            writer.append("note", {"text": str(i)}, at=AT, mono_s=1.0, record_id=identity)
        except LogbookError as error:
            said = str(error)
            assert [entry.id for entry in read(tmp_path).entries] == [f"note-{j}" for j in range(i)]
            disk.room = 10**9
            writer.append("note", {"text": str(i)}, at=AT, mono_s=1.0, record_id=identity)
    book = read(tmp_path)
    assert "no space left" in said
    assert [entry.id for entry in book.entries] == [f"note-{i}" for i in range(5)]
    assert book.sound


def test_a_failed_sync_is_tried_again_and_the_double_is_read_once(tmp_path: Path) -> None:
    """After a failed sync nobody knows what is on the medium: it is written again, and read once."""
    disk = Disk()
    writer = writer_on(disk, tmp_path)
    disk.sync_fails = 1
    with pytest.raises(LogbookError, match="input/output error"):
        writer.append("note", {"text": "x"}, at=AT, mono_s=1.0, record_id="same")
    writer.append("note", {"text": "x"}, at=AT, mono_s=1.0, record_id="same")
    writer.append("note", {"text": "y"}, at=AT, mono_s=1.0)
    book = read(tmp_path)
    assert [entry.fields["text"] for entry in book.entries] == ["x", "y"]
    assert book.repeats == 1
    assert book.sound


@linux
def test_the_always_full_device_refuses_with_one_sentence() -> None:
    """Linux's /dev/full (full(4)) answers every write with ENOSPC."""
    file = files.AppendFile(Path("/dev/full"))
    with pytest.raises(LogbookError, match="cannot write to /dev/full: no space left on device"):
        file.append(b"x\n")
    file.close()


_LIMITED = """
import resource, signal, sys
from datetime import datetime, UTC
from pathlib import Path
from benchctl.errors import LogbookError
from benchctl.logbook.writer import LogbookWriter
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
writer = LogbookWriter(Path(sys.argv[1]))
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, resource.RLIM_INFINITY))
at = datetime.now(UTC)
for i in range(100):
    try:
        print(writer.append("note", {"text": str(i)}, at=at, mono_s=1.0), flush=True)
    except LogbookError as error:
        print("refused:", error)
        break
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
print(writer.append("note", {"text": str(i)}, at=at, mono_s=1.0))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no resource limits there")
def test_a_real_short_write_at_a_size_limit_loses_nothing(tmp_path: Path) -> None:
    """At RLIMIT_FSIZE the system takes part of a record, then refuses with EFBIG (write(2))."""
    done = subprocess.run(
        [sys.executable, "-c", _LIMITED, str(tmp_path)],
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    )
    said = done.stdout.splitlines()
    kept = [line for line in said if not line.startswith("refused:")]
    assert any("file too large" in line for line in said)
    assert b"\n" not in (tmp_path / FILE_NAME).read_bytes()[999:1000]
    book = read(tmp_path)
    assert [entry.id for entry in book.entries] == kept
    assert not book.breaks


def test_a_second_program_is_refused_in_one_sentence(tmp_path: Path) -> None:
    """While one program holds the logbook another one is told so, and may have it afterwards."""
    code = (
        "import sys; from pathlib import Path; from benchctl.logbook.writer import LogbookWriter\n"
        "LogbookWriter(Path(sys.argv[1]))"
    )
    command = [sys.executable, "-c", code, str(tmp_path)]
    writer = LogbookWriter(tmp_path)
    other = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
    assert other.returncode == 1
    assert "is in use by another program; close that one first" in other.stderr.splitlines()[-1]
    writer.close()
    assert subprocess.run(command, timeout=30, check=False).returncode == 0


_VICTIM = """
import sys
from datetime import datetime, UTC
from pathlib import Path
from benchctl.logbook.writer import LogbookWriter
writer = LogbookWriter(Path(sys.argv[1]))
at = datetime.now(UTC)
print("ready", flush=True)
while True:
    sys.stdout.write(writer.append("note", {"text": "x" * 200}, at=at, mono_s=1.0) + "\\n")
    sys.stdout.flush()
"""


def kill_writers(folder: Path, kills: int) -> list[str]:
    """Kill so many programs while they write to one logbook; the ids they reported as kept."""
    luck = random.Random(7)
    reported: list[str] = []
    command = [sys.executable, "-c", _VICTIM, str(folder)]
    for _ in range(kills):
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as victim:
            assert victim.stdout is not None
            assert victim.stdout.readline() == "ready\n"
            for _ in range(luck.randrange(1, 60)):
                reported.append(victim.stdout.readline().strip())
            victim.kill()
            reported += [line.strip() for line in victim.stdout if line.endswith("\n")]
    return reported


def test_no_record_that_was_said_to_be_kept_is_lost_by_a_kill(tmp_path: Path) -> None:
    """Twenty-five programs are killed while they write; every record they reported is there."""
    reported = kill_writers(tmp_path, 25)
    book = read(tmp_path)
    kept = {entry.id for entry in book.entries}
    assert len(reported) >= 25
    assert [identity for identity in reported if identity not in kept] == []
    assert not book.breaks
    assert all(one.reason == "cut short" for one in book.damaged)


@pytest.mark.skipif(sys.platform == "win32", reason="rights are kept another way there")
def test_only_its_owner_may_read_a_logbook(tmp_path: Path) -> None:
    """File 0600, folder 0700."""
    folder = tmp_path / "new"
    write_notes(folder, 1)
    assert stat.S_IMODE((folder / FILE_NAME).stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
@pytest.mark.parametrize("name", [FILE_NAME, "logbook.lock"])
def test_a_link_in_place_of_a_file_is_not_followed(tmp_path: Path, name: str) -> None:
    """A link planted in the folder cannot make the logbook write elsewhere."""
    target = tmp_path / "elsewhere"
    target.write_bytes(b"")
    folder = tmp_path / "book"
    folder.mkdir()
    (folder / name).symlink_to(target)
    with pytest.raises(LogbookError):
        LogbookWriter(folder)
    assert target.read_bytes() == b""


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    """A file where the folder should be is named, with the reason."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(LogbookError, match="cannot make the logbook's folder"):
        LogbookWriter(tmp_path / "file" / "book")


def test_little_room_refuses_a_segment_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Below 50 MB free no segment may begin; the sentence has the figure and what to do."""
    monkeypatch.setattr(files, "free_bytes", lambda folder: 49_000_000)
    assert "only 49 MB free" in (files.why_no_segment(tmp_path) or "")
    monkeypatch.setattr(files, "free_bytes", lambda folder: 50_000_000)
    assert files.why_no_segment(tmp_path) is None


@linux
def test_free_room_is_what_the_system_says(tmp_path: Path) -> None:
    """The figure agrees with `shutil.disk_usage` of the standard library to a tenth."""
    import shutil

    assert files.free_bytes(tmp_path) == pytest.approx(shutil.disk_usage(tmp_path).free, rel=0.1)
