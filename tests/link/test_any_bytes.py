"""Whatever comes down the cable, the link raises nothing and starts nothing."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from benchctl.link.board import BoardLink
from benchctl.link.recording import Chunk, ReplayTransport
from firmware_protocol import codec, frames, messages

_FIELDS = st.integers(0, 255)
_TEXT = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=16)


@st.composite
def payloads(draw: st.DrawFn) -> bytes:
    """A whole message of any kind from the board, with any values, sometimes cut or of another version."""
    _, make, written = draw(st.sampled_from([row for row in messages.TABLE if row[0] >= 64]))
    values: list[object] = []
    for code in written:
        if code == "*":
            values.append(tuple(draw(st.lists(st.integers(0, 2**32 - 1), max_size=16))))
        elif code == "S":
            values.append(draw(_TEXT))
        else:
            most = {"B": 255, "H": 65535, "I": 2**32 - 1}[code]
            values.append(draw(st.one_of(st.sampled_from([0, 1, most]), st.integers(0, most))))
    epoch, seq, t_ms = draw(_FIELDS), draw(_FIELDS), draw(st.integers(0, 2**32 - 1))
    payload = bytearray(codec.encode(make(*values), epoch, seq, t_ms))
    payload[0] = draw(st.sampled_from([1, 1, 1, 2]))
    cut = draw(st.sampled_from([0, 0, 0, 1, 4]))
    return bytes(payload[: max(codec.HEADER_SIZE, len(payload) - cut)])


@settings(max_examples=150, deadline=None)
@given(st.lists(st.one_of(payloads().map(frames.encode), st.binary(max_size=60)), max_size=25))
def test_any_words_of_a_board(words: list[bytes]) -> None:
    """Random bytes and whole frames with random values: no exception, no wish of a person's is made up."""
    transport = ReplayTransport([Chunk(0.05 * n, "in", word) for n, word in enumerate(words)])
    link = BoardLink(transport, owner=7)
    link.arm(0.0, 30.0)
    for step in range(30):
        transport.now_s = 0.05 * step
        link.poll(transport.now_s)
        link.renew(transport.now_s)
    link.reset(1.5)
    link.stop(1.5, False, "person")
    link.poll(1.6)
    sent = [codec.decode(p)[1] for p in frames.FrameReader().feed(b"".join(transport.written))]
    assert not any(isinstance(m, messages.Run | messages.SetSpeed | messages.WriteSetting) for m in sent)
    assert sum(isinstance(m, messages.Stop) for m in sent) >= 3
