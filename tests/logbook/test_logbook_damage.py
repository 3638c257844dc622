"""A logbook that was cut, flipped, edited or mixed up is still read, and nothing is rewritten."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchctl.errors import LogbookError
from benchctl.logbook.reader import FILE_NAME, parse, read
from benchctl.logbook.writer import LogbookWriter
from tests.logbook.books import AT, write_notes


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_notes(tmp_path, 6)
    return tmp_path


def bytes_of(folder: Path) -> bytes:
    return (folder / FILE_NAME).read_bytes()


def test_a_sound_logbook_says_so(folder: Path) -> None:
    """Six notes are six records in an unbroken row."""
    book = read(folder)
    assert [entry.n for entry in book.entries] == [1, 2, 3, 4, 5, 6]
    assert book.sound


def test_cut_at_every_byte_keeps_every_whole_record(folder: Path) -> None:
    """Wherever a file is cut off, all records that are whole are read and none is invented."""
    data = bytes_of(folder)
    whole = read(folder).entries
    for cut in range(len(data) + 1):
        book = parse(data[:cut])
        ended = data[:cut].count(b"\n")
        at_newline = data[cut : cut + 1] == b"\n"
        assert book.entries == whole[: ended + at_newline]
        inside = cut > 0 and data[cut - 1 : cut] != b"\n" and not at_newline
        assert (len(book.damaged), book.breaks) == (int(inside), [])


def test_every_bit_flipped_costs_two_records_at_most_and_shows(folder: Path) -> None:
    """One flipped bit anywhere costs the record it is in (a newline joins two), and is reported."""
    data = bytearray(bytes_of(folder))
    whole = read(folder).entries
    for place in range(len(data)):
        for bit in range(8):
            data[place] ^= 1 << bit
            book = parse(bytes(data))
            data[place] ^= 1 << bit
            assert all(entry in whole for entry in book.entries)
            assert len(book.entries) >= len(whole) - 2
            last_newline = place == len(data) - 1
            assert not book.sound or (last_newline and len(book.entries) == len(whole)), (place, bit)


def test_a_line_taken_out_is_missed(folder: Path) -> None:
    """Without line 3 the row is broken at the line that follows."""
    lines = bytes_of(folder).splitlines(keepends=True)
    book = parse(b"".join(lines[:2] + lines[3:]))
    assert [(one.line, "missing" in one.reason) for one in book.breaks] == [(3, True)]


def test_two_lines_in_each_others_place_are_noticed(folder: Path) -> None:
    """Records in another order than written break the row."""
    lines = bytes_of(folder).splitlines(keepends=True)
    lines[2], lines[3] = lines[3], lines[2]
    assert parse(b"".join(lines)).breaks


def test_a_record_replaced_by_another_with_a_right_checksum_is_noticed(tmp_path: Path) -> None:
    """Each line carries the checksum of the one before, so a line made anew shows at the next."""
    write_notes(tmp_path / "a", 4)
    write_notes(tmp_path / "b", 4, text="other")
    lines = bytes_of(tmp_path / "a").splitlines(keepends=True)
    lines[1] = bytes_of(tmp_path / "b").splitlines(keepends=True)[1]
    assert [one.line for one in parse(b"".join(lines)).breaks] == [2, 3]


def test_foreign_lines_are_set_aside_with_their_number(folder: Path) -> None:
    """A line that is not ours is set aside, counted from 1; the rest is read."""
    lines = bytes_of(folder).splitlines(keepends=True)
    book = parse(b"".join([*lines[:2], b"hello\n", b'{"a": 1}\n', *lines[2:]]))
    assert [(one.line, one.reason) for one in book.damaged] == [
        (3, "not a line of a logbook"),
        (4, "not a line of a logbook"),
    ]
    assert len(book.entries) == 6
    assert not book.breaks


def test_line_ends_of_another_system_do_no_harm(folder: Path) -> None:
    """A logbook that an editor saved with carriage returns is still sound."""
    assert parse(bytes_of(folder).replace(b"\n", b"\r\n")).sound


def test_writing_after_a_torn_end_loses_nothing(folder: Path) -> None:
    """A torn last line is set aside, the next record begins on a new line, and no byte is rewritten."""
    torn = bytes_of(folder)[:-20]
    (folder / FILE_NAME).write_bytes(torn)
    writer = LogbookWriter(folder)
    writer.append("note", {"text": "after"}, at=AT, mono_s=1.0)
    writer.close()
    assert bytes_of(folder).startswith(torn)
    book = read(folder)
    assert [entry.fields["text"] for entry in book.entries] == [*(f"note {i}" for i in range(5)), "after"]
    assert [(one.line, one.reason) for one in book.damaged] == [(6, "cut short")]
    assert not book.breaks


@pytest.mark.parametrize("line", [1, 4, 6])
def test_writing_after_a_damaged_line_keeps_the_row(folder: Path, line: int) -> None:
    """Records that follow on damage are not called broken, whichever line it is in."""
    lines = bytes_of(folder).splitlines(keepends=True)
    lines[line - 1] = lines[line - 1].replace(b"note", b"nite")
    (folder / FILE_NAME).write_bytes(b"".join(lines))
    writer = LogbookWriter(folder)
    writer.append("note", {"text": "after"}, at=AT, mono_s=1.0)
    writer.close()
    book = read(folder)
    assert [one.line for one in book.damaged] == [line]
    assert not book.breaks
    assert book.entries[-1].n == 7


def test_a_newer_schema_is_read_but_not_written_to(folder: Path) -> None:
    """A logbook of a newer program opens for reading only, and one sentence says so."""
    import zlib

    body = b'{"v":2,"n":7,"new":"thing"'
    with (folder / FILE_NAME).open("ab") as file:
        file.write(body + f',"crc":"{zlib.crc32(body):08x}"}}\n'.encode())
    before = bytes_of(folder)
    book = read(folder)
    assert len(book.entries) == 6
    assert "newer" in (book.read_only_reason or "")
    with pytest.raises(LogbookError, match="newer benchctl"):
        LogbookWriter(folder)
    assert bytes_of(folder) == before


def test_a_folder_in_place_of_the_file_is_one_sentence(tmp_path: Path) -> None:
    """What cannot be read is refused with the path and the reason."""
    (tmp_path / FILE_NAME).mkdir()
    with pytest.raises(LogbookError, match="cannot read the logbook"):
        read(tmp_path)
