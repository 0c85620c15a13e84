"""Original recordings as they are handed over: every sample as it was, and nothing of what the recorder wrote beside them."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.record.bare_sounds import bare_sound

SECRET = b"Ottilie SERIAL-77"
WAVE = np.round(0.5 * np.sin(np.linspace(0, 700, 8001)) * 2**15) / 2**15


def stored(form: str, subtype: str) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, WAVE, 8000, format=form, subtype=subtype)
    return out.getvalue()


def telling(form: str, subtype: str) -> bytes:
    """Return a recording with a secret in every place that its form has for one."""
    content = stored(form, subtype)
    if form == "FLAC":
        comment = struct.pack("<I", 3) + b"bar" + struct.pack("<II", 1, len(SECRET) + 7) + b"ARTIST=" + SECRET
        blocks = b"".join(
            bytes((kind,)) + len(c).to_bytes(3, "big") + c for kind, c in ((4, comment), (2, b"BENC" + SECRET), (6, SECRET))
        )
        first = 4 + 4 + 34
        head = bytearray(content[:first])
        last = head[4] & 0x80
        head[4] &= 0x7F
        blocks = blocks[: -len(SECRET) - 4] + bytes((6 | last,)) + blocks[-len(SECRET) - 3 :]
        return b"ID3\4\0\0\0\0\0" + bytes((len(SECRET),)) + SECRET + bytes(head) + blocks + content[first:]
    order, names = (">", (b"NAME", b"ANNO")) if form == "AIFF" else ("<", (b"LIST", b"bext", b"id3 "))
    padded = SECRET + b"\0" * (len(SECRET) % 2)
    more = b"".join(name + struct.pack(order + "I", len(SECRET)) + padded for name in names)
    body = content[8:12] + more + content[12:] + more
    return content[:4] + struct.pack(order + "I", len(body)) + body


@pytest.mark.parametrize(
    ("form", "subtype"),
    [
        ("FLAC", "PCM_16"),
        ("FLAC", "PCM_24"),
        ("WAV", "PCM_16"),
        ("WAV", "FLOAT"),
        ("WAVEX", "PCM_24"),
        ("RF64", "PCM_16"),
        ("AIFF", "PCM_16"),
    ],
)
def test_every_sample_stays_and_no_word_does(form: str, subtype: str) -> None:
    original, out = telling(form, subtype), io.BytesIO()
    assert SECRET in original
    assert bare_sound(io.BytesIO(original), out)
    assert SECRET not in out.getvalue()
    read, rate = soundfile.read(io.BytesIO(out.getvalue()))
    assert rate == 8000
    assert np.array_equal(read, soundfile.read(io.BytesIO(stored(form, subtype)))[0])


def test_a_form_that_it_cannot_be_taken_out_of_is_told() -> None:
    assert not bare_sound(io.BytesIO(stored("AU", "PCM_16")), io.BytesIO())


def test_half_a_head_is_told() -> None:
    with pytest.raises(ValueError, match="ends in its head"):
        bare_sound(io.BytesIO(stored("FLAC", "PCM_16")[:30] + b""), io.BytesIO())


@given(
    st.sampled_from([b"RIFF\0\0\0\0WAVE", b"FORM\0\0\0\0AIFF", b"RF64\0\0\0\0WAVE", b"ID3", b"fLaC", b""]),
    st.binary(max_size=200),
)
def test_any_file_comes_to_an_end(head: bytes, rest: bytes) -> None:
    try:
        bare_sound(io.BytesIO(head + rest), out := io.BytesIO())
    except ValueError:
        return
    assert len(out.getvalue()) <= len(head + rest) + 1
