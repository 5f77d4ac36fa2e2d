"""Give an Ogg stream a fixed serial number, so that the same sound makes the same bytes.

libsndfile draws the serial number from the time. Source of the page layout and its checksum: RFC 3533, section 6.
Imports nothing of centwise.
"""

from __future__ import annotations

import struct

_HEADER_BYTES = 27
_SERIAL_AT = 14
_CHECKSUM_AT = 22
_POLYNOMIAL = 0x04C11DB7


def _checksum_table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        value = byte << 24
        for _ in range(8):
            value = ((value << 1) ^ (_POLYNOMIAL if value & 0x80000000 else 0)) & 0xFFFFFFFF
        table.append(value)
    return tuple(table)


def with_serial(content: bytes, serial: int = 1) -> bytes:
    """Return an Ogg stream with another serial number on each page, and the checksums made anew.

    Args:
        content: whole pages of one logical stream.
        serial: 0 to 2^32 - 1.

    Raises:
        ValueError: this is no Ogg stream.
    """
    pages = bytearray(content)
    table = _checksum_table()
    begin = 0
    while begin < len(pages):
        if pages[begin : begin + 4] != b"OggS":
            raise ValueError(f"no Ogg page begins at byte {begin}")
        segments = pages[begin + _HEADER_BYTES - 1]
        sizes = pages[begin + _HEADER_BYTES : begin + _HEADER_BYTES + segments]
        end = begin + _HEADER_BYTES + segments + sum(sizes)
        struct.pack_into("<I", pages, begin + _SERIAL_AT, serial)
        struct.pack_into("<I", pages, begin + _CHECKSUM_AT, 0)
        checksum = 0
        for byte in pages[begin:end]:
            checksum = ((checksum << 8) & 0xFFFFFFFF) ^ table[(checksum >> 24) ^ byte]
        struct.pack_into("<I", pages, begin + _CHECKSUM_AT, checksum)
        begin = end
    return bytes(pages)
