"""Original recordings as they are handed over: every sample as it was, and nothing of what the recorder wrote beside them."""

from __future__ import annotations

import io
import struct

import mutagen
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.record.bare_sounds import bare_sound

SECRET = b"Ottilie SERIAL-77"
WAVE = np.round(0.5 * np.sin(np.linspace(0, 700, 8001)) * 2**15) / 2**15


def stored(form: str, subtype: str) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, WAVE, 8000, format=form, subtype=subtype)
    return out.getvalue()


def id3v1() -> bytes:
    return b"TAG" + SECRET.ljust(30, b"\0") + bytes(95)


def id3v2() -> bytes:
    return b"ID3\4\0\0\0\0\0" + bytes((len(SECRET),)) + SECRET


def ape(*, before: bool) -> bytes:
    """Return an APEv2 tag with a head and a foot; the head alone says that it is one."""
    item = struct.pack("<2L", len(SECRET), 0) + b"Artist\0" + SECRET
    ends = (b"APETAGEX" + struct.pack("<4L8x", 2000, len(item) + 32, 1, flags) for flags in (0xA0000000, 0x80000000))
    head, foot = ends
    return head + item + foot if before or item else b""


def lyrics() -> bytes:
    return b"LYRICSBEGIN" + SECRET + b"%06d" % (len(SECRET) + 11) + b"LYRICS200"


def in_chunks(content: bytes) -> bytes:
    """Return a WAV or AIFF file with a secret in each chunk that may have one, behind its own fields, before, between and behind them."""
    order, names = (">", (b"NAME", b"ANNO", b"(c) ", b"AUTH", b"APPL", b"ID3 ")) if content[:4] == b"FORM" else ("<", (b"LIST", b"bext", b"id3 ", b"iXML", b"JUNK", b"fact"))  # fmt: skip
    chunks, at = [], 12
    while at + 8 <= len(content):
        name, size = struct.unpack_from(order + "4sI", content, at)
        size = len(content) - at - 8 if size == 0xFFFFFFFF else size
        chunks.append((name, content[at + 8 : at + 8 + size]))
        at += 8 + size + size % 2
    long = [n for n, c in chunks if n in (b"fmt ", b"fact", b"COMM", b"FVER", b"ds64")]
    told = [(n, c + SECRET + b"!" if n in long else c) for n, c in chunks]
    more = [(n, SECRET) for n in names]
    again = [(n, SECRET * 3) for n, _ in chunks if n in (b"data", b"SSND")]
    body = b""
    for name, held in (*told[:-1], *more, told[-1], *more, *again):
        unsaid = name == b"data" and content[:4] == b"RF64" and held is told[-1][1]
        body += name + struct.pack(order + "I", 0xFFFFFFFF if unsaid else len(held)) + held + b"\0" * (len(held) % 2)
    return content[:4] + struct.pack(order + "I", len(body) + 4) + content[8:12] + body


def flac_blocks(content: bytes) -> bytes:
    """Return a FLAC file with comments, an application, a picture, places to seek that say something, and padding that is none."""
    comment = struct.pack("<I", 3) + b"bar" + struct.pack("<II", 1, len(SECRET) + 7) + b"ARTIST=" + SECRET
    seek = struct.pack(">QQH", 0xFFFFFFFFFFFFFFFF, 0, 0)[:8] + SECRET[:10]
    held = ((4, comment), (2, b"BENC" + SECRET), (6, SECRET), (3, seek), (1, SECRET))
    blocks = b"".join(bytes((kind,)) + len(c).to_bytes(3, "big") + c for kind, c in held)
    first, head = 4 + 4 + 34, bytearray(content[: 4 + 4 + 34])
    head[4] &= 0x7F
    return bytes(head) + blocks + content[first:]


def telling(form: str, subtype: str) -> bytes:
    """Return a recording with a secret in every place that its form has for one."""
    content = stored(form, subtype)
    return flac_blocks(content) if form == "FLAC" else in_chunks(content)


FORMS = [
    *(("FLAC", s) for s in ("PCM_S8", "PCM_16", "PCM_24")),
    *(("WAV", s) for s in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW", "IMA_ADPCM", "MS_ADPCM", "GSM610")),
    *(("WAVEX", s) for s in ("PCM_16", "PCM_24", "FLOAT")),
    *(("RF64", s) for s in ("PCM_16", "FLOAT")),
    *(("AIFF", s) for s in ("PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "FLOAT", "DOUBLE", "ULAW")),
]  # fmt: skip


def told(content: bytes) -> list[str]:
    """Return what an outside reader finds beside the samples."""
    read = mutagen.File(io.BytesIO(content)) if content[:4] != b"RF64" else None  # which it does not read
    return [f"{key}={value}" for key, value in dict(read.tags or {}).items()] if read else []


@pytest.mark.parametrize(("form", "subtype"), FORMS)
def test_every_sample_stays_and_no_word_does(form: str, subtype: str) -> None:
    original, out = telling(form, subtype), io.BytesIO()
    assert SECRET in original
    assert bare_sound(io.BytesIO(original), out)
    bare = out.getvalue()
    assert [n for n in range(len(SECRET) - 4) if SECRET[n : n + 5] in bare] == []
    assert told(bare) == []
    read, rate = soundfile.read(io.BytesIO(bare))
    assert rate == 8000
    assert np.array_equal(read, soundfile.read(io.BytesIO(stored(form, subtype)))[0])
    again = io.BytesIO()
    assert bare_sound(io.BytesIO(bare), again)
    assert again.getvalue() == bare


BEFORE = {"nothing": b"", "ID3v2": id3v2(), "APE": ape(before=True), "both": id3v2() + ape(before=True) + id3v2()}
BEHIND = {
    "ID3v1": id3v1(),
    "APE and ID3v1": ape(before=False) + id3v1(),
    "lyrics": lyrics() + id3v1(),
    "ID3v2": id3v2(),
    "words": SECRET,
}


@pytest.mark.parametrize("before", BEFORE)
@pytest.mark.parametrize("behind", BEHIND)
@pytest.mark.parametrize(("form", "subtype"), [("FLAC", "PCM_16"), ("WAV", "PCM_16"), ("AIFF", "PCM_16"), ("OGG", "VORBIS"), ("MP3", "MPEG_LAYER_III")])  # fmt: skip
def test_tags_of_other_forms_before_and_behind_do_not_go_along(form: str, subtype: str, before: str, behind: str) -> None:
    wave = np.sin(np.linspace(0, 7000, 80001)) / 2
    soundfile.write(plain := io.BytesIO(), wave, 44100, format=form, subtype=subtype)
    original, out = BEFORE[before] + plain.getvalue() + BEHIND[behind], io.BytesIO()
    assert bare_sound(io.BytesIO(original), out)
    assert SECRET not in out.getvalue()
    assert told(out.getvalue()) == []
    assert np.array_equal(soundfile.read(io.BytesIO(out.getvalue()))[0], soundfile.read(io.BytesIO(plain.getvalue()))[0])  # fmt: skip


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_any_sound_in_flac_stays_to_the_sample_whatever_stands_behind(data: st.DataObject) -> None:
    """Frames of every kind: silence, one value, noise, tones, steps; mono to eight channels; what is behind may look like a frame."""
    rng, channels = np.random.default_rng(data.draw(st.integers(0, 999))), data.draw(st.sampled_from([1, 2, 3, 8]))
    count, level = data.draw(st.integers(1, 9000)), data.draw(st.sampled_from([0.0, 0.001, 0.4, 1.0]))
    ticks = np.arange(count)[:, None] * (1 + np.arange(channels))
    waves = (
        np.zeros((count, channels)),
        rng.uniform(-1, 1, (count, channels)),
        np.sin(ticks * 0.05),
        np.sign(np.sin(ticks * 0.01)),
    )
    wave, subtype = level * data.draw(st.sampled_from(waves)), data.draw(st.sampled_from(["PCM_S8", "PCM_16", "PCM_24"]))
    out, speed = io.BytesIO(), data.draw(st.sampled_from([0.0, 0.5, 1.0]))
    soundfile.write(out, wave, 12345, format="FLAC", subtype=subtype, compression_level=speed)
    behind = data.draw(st.sampled_from([b"", b"\xff\xf8\xc9\x18" + SECRET, SECRET, id3v1()]))
    bare = io.BytesIO()
    assert bare_sound(io.BytesIO(flac_blocks(out.getvalue()) + behind), bare)
    assert SECRET not in bare.getvalue()
    assert np.array_equal(*(soundfile.read(io.BytesIO(c.getvalue()), dtype="int32")[0] for c in (out, bare)))


@pytest.mark.parametrize("cut", [10, 100, 2000, -1])
def test_a_flac_that_breaks_off_is_told(cut: int) -> None:
    whole = stored("FLAC", "PCM_16")
    with pytest.raises(ValueError, match=r"breaks off|ends in its head|between"):
        bare_sound(io.BytesIO(whole[:cut]), io.BytesIO())


def test_words_between_the_frames_of_a_flac_are_told() -> None:
    whole = stored("FLAC", "PCM_16")
    at = whole.rindex(b"\xff\xf8")
    with pytest.raises(ValueError, match="FLAC"):
        bare_sound(io.BytesIO(whole[:at] + SECRET + whole[at:]), io.BytesIO())


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF])
def test_a_recording_that_does_not_say_where_it_ends_is_left_out(size: int) -> None:
    whole = stored("WAV", "PCM_16")
    at = whole.index(b"data") + 4
    assert not bare_sound(io.BytesIO(whole[:at] + struct.pack("<I", size) + whole[at + 4 :]), io.BytesIO())


def test_the_room_before_the_samples_of_an_aiff_does_not_go_along() -> None:
    whole = stored("AIFF", "PCM_16")
    at, room = whole.index(b"SSND"), SECRET + b"!"
    size, offset = struct.unpack(">II", whole[at + 4 : at + 12])
    moved = whole[: at + 4] + struct.pack(">III", size + len(room), offset + len(room), 0) + room + whole[at + 16 :]
    out = io.BytesIO()
    assert bare_sound(io.BytesIO(moved), out)
    assert out.getvalue() == whole


def test_a_form_that_it_cannot_be_taken_out_of_is_told() -> None:
    assert not bare_sound(io.BytesIO(stored("AU", "PCM_16")), io.BytesIO())


def test_half_a_head_is_told() -> None:
    with pytest.raises(ValueError, match="ends in its head"):
        bare_sound(io.BytesIO(stored("FLAC", "PCM_16")[:6]), io.BytesIO())


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
