"""A capture told frame by frame."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from benchctl.link.listing import chunks_of, describe, listing
from benchctl.link.recording import Chunk
from firmware_protocol import codec, frames, messages
from firmware_protocol.settings import DEFAULTS

STATUS = messages.Status(4, 1, 12, 3, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 3, 12)
EDGES = messages.Edges(messages.LAP_SENSOR, 41, (1000, 2000, 3000))


def frame(message: tuple[object, ...], seq: int = 1) -> bytes:
    return frames.encode(codec.encode(message, 7, seq, 12345))


def test_numbers_that_have_names_are_told_by_name() -> None:
    """State, reason, kind of stop, sensor, call and cause are words; other numbers stay as they are sent."""
    told = describe(codec.encode(STATUS, 7, 8, 12345))
    assert "12345 ms" in told
    assert "Status state=tripped" in told
    assert "reason=overload stop_kind=power_off" in told
    assert "call=fault" in told
    assert "load_permille=4" in told
    assert "sensor=lap first_number=41 stamps_us=1000,2000,3000" in describe(codec.encode(EDGES, 7, 8, 1))
    assert "table_edges_per_turn=24" in describe(codec.encode(DEFAULTS, 7, 8, 1))
    boot = codec.encode(messages.Boot(messages.MAGIC, 3, messages.BROWN_OUT), 7, 8, 1)
    assert "magic=48434e42 boot_counter=3 reset_cause=brown_out" in describe(boot)


def test_each_way_is_read_by_itself() -> None:
    """Frames cut anywhere and mixed both ways are told whole, with the time at which they were complete."""
    to, by = frame(messages.Ping(5)), frame(STATUS)
    chunks = [
        Chunk(0.1, "out", to[:9]),
        Chunk(0.2, "in", by[:20]),
        Chunk(0.3, "out", to[9:]),
        Chunk(0.35, "lost", b"", "the plug"),
        Chunk(0.4, "in", by[20:]),
    ]
    lines = list(listing(chunks))
    assert [line.split()[0] for line in lines] == ["0.3000", "0.3500", "0.4000"]
    assert [line.split()[1] for line in lines] == ["->", "the", "<-"]
    assert "Ping echo=5" in lines[0]
    assert "the cable failed: the plug" in lines[1]


def test_what_is_no_frame_is_shown() -> None:
    """Damage, a raw stop, another version, an unknown kind and a cut-off end: a line each, none left out."""
    strange = bytearray(codec.encode(messages.Ping(1), 7, 1, 1))
    strange[0] = 9
    unknown = bytearray(codec.encode(messages.Ping(1), 7, 1, 1))
    unknown[1] = 200
    short = codec.encode(messages.Ping(1), 7, 1, 1)[:-1]
    whole = [frames.encode(bytes(payload)) for payload in (strange, unknown, short)]
    capture = b"\x11\x22" + b"".join(whole) + b"\x18" * 20 + b"\x00" + b"x" * 300 + b"\x00\x05\x06"
    lines = list(listing(chunks_of(capture)))
    wanted = ("damaged, 2 bytes: 11 22", "kind 10 of version 9", "kind 200 of version 1", "unreadable: ")
    for line, words in zip(
        lines, (*wanted, "raw stop", "damaged, 300 bytes", "cut off at the end"), strict=True
    ):
        assert words in line


@given(st.binary(max_size=600))
def test_any_bytes_give_lines(capture: bytes) -> None:
    """Whatever bytes a capture holds, it gives printable lines of no great length and raises nothing."""
    for line in listing([Chunk(-1.0, "", capture)]):
        assert line.isprintable()
        assert len(line) < 400


@given(st.lists(st.sampled_from([STATUS, EDGES, DEFAULTS, messages.Ping(0)]), max_size=8), st.data())
def test_every_whole_frame_is_told(said: list[tuple[object, ...]], data: st.DataObject) -> None:
    """However a capture of whole frames is cut into chunks, each frame is one line, in order."""
    raw = b"".join(frame(message) for message in said)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(raw)), max_size=10)))
    chunks = [Chunk(0.0, "in", raw[a:b]) for a, b in zip([0, *cuts], [*cuts, len(raw)], strict=True)]
    names = [line.split("  ")[-1].split()[0] for line in listing(chunks)]
    assert names == [type(message).__name__ for message in said]
