"""Bytes on the cable <-> whole, checked frame payloads.

A frame is `00 | COBS(payload + CRC-32 little-endian) | 00`. The payload (header and body) has 10 to
250 bytes, so what is stuffed has at most 254 and COBS adds exactly one byte. A zero byte appears only
as a delimiter, so after any damage the next frame is read again: a damaged frame costs itself, no other.

Sources: COBS after Cheshire & Baker, IEEE/ACM Trans. Networking 7(2), 1999 (abstract read); the CRC is
CRC-32/ISO-HDLC as computed by zlib (check value CBF43926 for "123456789", published catalogues).
"""

import binascii

HEADER_SIZE = 10
MAX_PAYLOAD = 250
MAX_STUFFED = 255
RAW_STOP_BYTE = 0x18
RAW_STOP_COUNT = 16
_ZERO = b"\x00"


def cobs_encode(data: bytes) -> bytes:
    """Stuff `data` so that it holds no zero byte; no delimiters are added. Any length."""
    out = bytearray()
    blocks = data.split(_ZERO)
    last = len(blocks) - 1
    for i, block in enumerate(blocks):
        size = len(block)
        if size < 254:
            out.append(size + 1)
            out += block
            continue
        at = 0
        while size - at >= 254:
            out.append(255)
            out += block[at : at + 254]
            at += 254
        if at < size or i < last:
            out.append(size - at + 1)
            out += block[at:]
    return bytes(out)


def cobs_decode(stuffed: bytes) -> bytes:
    """Undo `cobs_encode`. Raises ValueError on anything `cobs_encode` would not have written."""
    size = len(stuffed)
    if size == 0:
        raise ValueError("empty")
    if stuffed.find(_ZERO) >= 0:
        raise ValueError("zero byte inside")
    out = bytearray()
    at = 0
    before = 0
    while at < size:
        code = stuffed[at]
        end = at + code
        if end > size:
            raise ValueError("code points past the end")
        if end == size and code == 1 and before == 255:
            raise ValueError("needless last code after a full block")
        out += stuffed[at + 1 : end]
        if code < 255 and end < size:
            out.append(0)
        before = code
        at = end
    return bytes(out)


def encode(payload: bytes) -> bytes:
    """Frame `payload` with its CRC-32 and both delimiters. ValueError unless 10 to 250 bytes long."""
    if not HEADER_SIZE <= len(payload) <= MAX_PAYLOAD:
        raise ValueError("payload of %d bytes; 10 to 250 allowed" % len(payload))
    crc = binascii.crc32(payload) & 0xFFFFFFFF
    return _ZERO + cobs_encode(bytes(payload) + crc.to_bytes(4, "little")) + _ZERO


def check(stuffed: bytes) -> bytes | None:
    """The payload between two delimiters, or None where it is not a whole, undamaged frame."""
    try:
        data = cobs_decode(stuffed)
    except ValueError:
        return None
    if not HEADER_SIZE + 4 <= len(data) <= MAX_PAYLOAD + 4:
        return None
    payload = data[:-4]
    if binascii.crc32(payload) & 0xFFFFFFFF != int.from_bytes(data[-4:], "little"):
        return None
    return payload


class FrameReader:
    """Finds frames in a byte stream cut anywhere; holds at most 255 bytes between calls.

    `dropped` counts stretches between delimiters that were not whole, undamaged frames.
    """

    def __init__(self) -> None:
        self.dropped = 0
        self._held = b""
        self._too_long = False

    def feed(self, data: bytes) -> list[bytes]:
        """Take the next bytes; the payloads of the frames completed by them, in order. Never raises."""
        parts = bytes(data).split(_ZERO)
        payloads: list[bytes] = []
        last = len(parts) - 1
        for i, part in enumerate(parts):
            if i == last:
                self._hold(part)
            elif part or self._held or self._too_long:
                self._finish(part, payloads)
        return payloads

    def _hold(self, part: bytes) -> None:
        if self._too_long or not part:
            return
        if len(self._held) + len(part) > MAX_STUFFED:
            self._too_long = True
            self._held = b""
        else:
            self._held = self._held + part

    def _finish(self, part: bytes, payloads: list[bytes]) -> None:
        stretch = self._held + part if self._held else part
        payload = None
        if not self._too_long and len(stretch) <= MAX_STUFFED:
            payload = check(stretch)
        self._held = b""
        self._too_long = False
        if payload is None:
            self.dropped += 1
        else:
            payloads.append(payload)


class RawStop:
    """Watches the raw bytes for the stop a person can send from a bare terminal: 16 x 0x18 in a row.

    It looks at every byte, since a half frame left by a dying host must not hide it. No message of the
    table can hold such a run: its fields are bounded (a test keeps this so).
    """

    def __init__(self) -> None:
        self._run = 0

    def feed(self, data: bytes) -> bool:
        """True when these bytes complete a run."""
        found = False
        for byte in data:
            if byte == RAW_STOP_BYTE:
                self._run += 1
                if self._run == RAW_STOP_COUNT:
                    found = True
                    self._run = 0
            else:
                self._run = 0
        return found
