"""Original recordings without what a recorder wrote beside them: every sample stays as it was stored.

WAV and AIFF, FLAC, Ogg and MP3 have files of their own. Sources: ID3v2.4 section 3.1 and the APEv2 specification for tags that programs put
before a recording of any form.
"""

from __future__ import annotations

import struct
from typing import BinaryIO

from benchrecord.record.bare_chunks import bare_aiff, bare_wav
from benchrecord.record.bare_flac import bare_flac
from benchrecord.record.bare_mp3 import bare_mp3
from benchrecord.record.bare_ogg import bare_ogg

ID3, ID3_HEAD, FOOTED = b"ID3", 10, 0x10  # a tag that is repeated behind its words
APE, APE_HEAD = b"APETAGEX", 32


def bare_sound(original: BinaryIO, out: BinaryIO) -> bool:
    """Write a recording with nothing beside its samples; say whether its form is one that this can be done with.

    Raises
    ------
    ValueError
        Where the file is not as its form says.
    """
    try:
        return _bare(_behind_tags(original), out)
    except (struct.error, IndexError, OverflowError) as error:
        raise ValueError("a recording that is not as its form says") from error


def _bare(original: BinaryIO, out: BinaryIO) -> bool:
    begin = original.tell()
    head = original.read(12)
    original.seek(begin)
    if head[:4] == b"fLaC":
        bare_flac(original, out)
        return True
    if head[:4] in (b"RIFF", b"RF64") and head[8:] == b"WAVE":
        return bare_wav(original, out)
    if head[:4] == b"FORM" and head[8:] in (b"AIFF", b"AIFC"):
        return bare_aiff(original, out)
    return bare_ogg(original, out) if head[:4] == b"OggS" else bare_mp3(original, out)


def _behind_tags(original: BinaryIO) -> BinaryIO:
    """Go behind the tags that stand before a recording of any form."""
    at = 0
    while size := _tag(original.read(APE_HEAD)):
        at += size
        original.seek(at)
    original.seek(at)
    return original


def _tag(head: bytes) -> int:
    """Return how many bytes the tag has that begins so; none where it is none."""
    if head.startswith(ID3) and len(head) >= ID3_HEAD:
        length = sum((b & 0x7F) << 7 * (3 - n) for n, b in enumerate(head[6:ID3_HEAD]))
        return ID3_HEAD + length + (ID3_HEAD if head[5] & FOOTED else 0)
    if head.startswith(APE) and len(head) == APE_HEAD:
        return APE_HEAD + int(struct.unpack_from("<I", head, 12)[0])
    return 0
