"""Check vectors of the frame codec, in Python that MicroPython understands too.

COBS: the pairs agree with the usual published table and with the `cobs` package (compared in
test_frames.py). CRC-32/ISO-HDLC: the published catalogue's check value for "123456789".
"""

RUN_254 = bytes(range(1, 255))

COBS = (
    (b"", "01"),
    (b"\x00", "0101"),
    (b"\x00\x00", "010101"),
    (b"\x11\x22\x00\x33", "0311220233"),
    (b"\x11\x22\x33\x44", "0511223344"),
    (b"\x11\x00\x00\x00", "0211010101"),
    (RUN_254, bytes([255]) + RUN_254),
    (b"\x00" + RUN_254, bytes([1, 255]) + RUN_254),
    (bytes(range(1, 256)), bytes([255]) + RUN_254 + bytes([2, 255])),
    (bytes(range(2, 256)) + b"\x00", bytes([255]) + bytes(range(2, 256)) + bytes([1, 1])),
    (bytes(range(3, 256)) + bytes([0, 1]), bytes([254]) + bytes(range(3, 256)) + bytes([2, 1])),
)

REFUSED = (
    b"",
    b"\x00",
    b"\x02",
    b"\x05\x11\x22\x33",
    b"\x03\x11\x00",
    bytes([255]) + RUN_254 + b"\x01",
)

CRC_OF_DIGITS = 0xCBF43926
CRC_OF_MESSAGE_AND_CRC = 0x2144DF1C
