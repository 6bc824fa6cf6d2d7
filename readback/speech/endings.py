"""Recordings cut off at their end, which decoders pass over: told by what their headers say."""

import os
import struct
from pathlib import Path
from typing import BinaryIO

_UNKNOWN = frozenset({0, 0xFFFFFFFF})
"""Sizes that programs write who do not know the length yet."""
_LONGEST_PAGE = 65_307
_LAST_PAGE = 0x04


def is_cut_off(path: str | os.PathLike[str]) -> bool:
    """Tell whether a WAV or Ogg file ends before its end.

    A RIFF header states the size of the file; the last page of each Ogg stream is marked as such.
    In other formats the decoder finds the damage itself.

    Sources: Microsoft and IBM, Multimedia Programming Interface and Data Specifications 1.0 (1991),
    RIFF chunks; RFC 3533 (2003), section 6, header_type_flag (both from memory).
    """
    with Path(path).open("rb") as file:
        start = file.read(8)
        size = file.seek(0, os.SEEK_END)
        if start.startswith(b"RIFF") and len(start) == 8:
            (stated,) = struct.unpack_from("<I", start, 4)
            return stated not in _UNKNOWN and stated + 8 > size
        return start.startswith(b"OggS") and not _ends_with_last_page(file, size)


def _ends_with_last_page(file: BinaryIO, size: int) -> bool:
    file.seek(max(0, size - _LONGEST_PAGE))
    tail = file.read()
    page = tail.rfind(b"OggS")
    if page < 0 or page + 27 > len(tail):
        return False
    lengths = tail[page + 27 : page + 27 + tail[page + 26]]
    whole = page + 27 + len(lengths) + sum(lengths) <= len(tail)
    return whole and bool(tail[page + 5] & _LAST_PAGE)
