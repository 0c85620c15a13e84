"""A colour profile without its words: the numbers that colours are reckoned with stay. Source: ICC.1:2022."""

from __future__ import annotations

import struct

TOLD = (b"desc", b"cprt", b"dmnd", b"dmdd", b"vued", b"targ", b"meta", b"calt", b"pseq", b"psid", b"scrd")  # words in a profile


def plain_profile(profile: bytes) -> bytes:
    """Return a colour profile without its words: the numbers that colours are reckoned with stay."""
    made = bytearray(profile)
    (count,) = struct.unpack(">I", profile[128:132]) if len(profile) >= 132 else (0,)  # noqa: PLR2004  # head and count
    for at in range(132, min(132 + 12 * min(count, 100), len(profile) - 11), 12):
        name, start, size = struct.unpack(">4sII", profile[at : at + 12])
        if name in TOLD and start + size <= len(profile):
            made[start + 8 : start + size] = bytes(max(0, size - 8))
    return bytes(made)
