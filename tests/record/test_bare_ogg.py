"""Original recordings in Ogg as they are handed over: every packet of sound as it was, and no comment."""

from __future__ import annotations

import io

import mutagen
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.record.bare_ogg import NUMBER, _as_bytes, _heads, _laid_out, _pages
from benchrecord.record.bare_sounds import bare_sound

SECRET = b"Ottilie SERIAL-77"
PROGRAMS = (b"Xiph", b"libopus", b"libsndfile", b"ENCODER", b"encoder")
CODINGS = [("VORBIS", 44100, 1), ("VORBIS", 8000, 2), ("OPUS", 48000, 1), ("OPUS", 16000, 2), ("OPUS", 48000, 6)]


def stored(coding: str, rate: int = 48000, channels: int = 1, seconds: float = 1.5) -> bytes:
    out = io.BytesIO()
    wave = np.random.default_rng(1).normal(0, 0.1, (int(rate * seconds), channels))
    with soundfile.SoundFile(out, "w", rate, channels, format="OGG", subtype=coding) as file:
        file.title, file.artist = SECRET.decode(), SECRET.decode()
        file.write(wave)
    return out.getvalue()


def with_picture(original: bytes) -> bytes:
    """Return a recording of Opus whose comments are longer than a page and are padded, as one with a picture in them is."""
    pages = _pages(io.BytesIO(original))
    first = next(pages)
    head, _ = _heads(first, pages, 2)
    long = b"OpusTags" + bytes(8) + SECRET * 9000
    before = [*_laid_out([head], first.stream, 2), *_laid_out([long], first.stream)]
    return b"".join(_as_bytes(page, place) for place, page in enumerate([*before, *pages]))


def bared(original: bytes) -> bytes:
    out = io.BytesIO()
    assert bare_sound(io.BytesIO(original), out)
    return out.getvalue()


def heard(content: bytes) -> tuple[int, np.ndarray]:
    sound, rate = soundfile.read(io.BytesIO(content))
    return rate, sound


@pytest.mark.parametrize(("coding", "rate", "channels"), CODINGS)
def test_every_sample_stays_and_no_word_does(coding: str, rate: int, channels: int) -> None:
    original = stored(coding, rate, channels)
    assert SECRET in original
    bare = bared(original)
    assert [word for word in (SECRET, *PROGRAMS) if word in bare] == []
    assert heard(bare)[0] == heard(original)[0] == rate
    assert np.array_equal(heard(bare)[1], heard(original)[1])


@pytest.mark.parametrize(("coding", "rate", "channels"), CODINGS)
def test_an_outside_reader_finds_a_whole_recording_without_comments(coding: str, rate: int, channels: int) -> None:
    read = mutagen.File(io.BytesIO(bared(stored(coding, rate, channels))))
    assert (list(read.tags), read.tags.vendor) == ([], "")
    assert read.info.length == pytest.approx(1.5, abs=0.01)


def test_a_recording_with_a_picture_in_its_comments_keeps_its_sound() -> None:
    original = with_picture(stored("OPUS"))
    assert SECRET not in bared(original)
    assert np.array_equal(heard(bared(original))[1], heard(original)[1])


def test_the_number_that_the_recorder_drew_goes() -> None:
    pages = list(_pages(io.BytesIO(bared(stored("VORBIS")))))
    assert {page.stream for page in pages} == {NUMBER}


def test_what_stands_behind_the_last_page_goes() -> None:
    assert SECRET not in bared(stored("OPUS") + b"ID3" + SECRET)


def test_tags_before_it_go() -> None:
    tag = b"ID3\4\0\x10\0\0\0" + bytes((len(SECRET),)) + SECRET
    assert SECRET not in bared(tag + b"3DI\4\0\x10\0\0\0" + bytes((len(SECRET),)) + stored("VORBIS"))


@pytest.mark.parametrize("more", [stored("VORBIS"), stored("OPUS")])
def test_several_recordings_in_one_file_are_told(more: bytes) -> None:
    one = stored("VORBIS")
    assert not bare_sound(io.BytesIO(one + more), io.BytesIO())
    end = one.rindex(b"OggS")
    assert not bare_sound(io.BytesIO(one[:end] + more[: more.index(b"OggS", 4)] + one[end:]), io.BytesIO())


def test_another_coding_is_told() -> None:
    (page,) = _laid_out([b"Speex   " + SECRET], 5, 2)
    other = _as_bytes(page, 0)
    assert not bare_sound(io.BytesIO(other), io.BytesIO())


@pytest.mark.parametrize("cut", [3, 27, 100, 4000, -1, -300])
def test_one_that_breaks_off_is_told(cut: int) -> None:
    with pytest.raises(ValueError, match=r"breaks off|between its pages|without a page|as it should|as its form says"):
        bare_sound(io.BytesIO(b"OggS"[: max(cut, 4)] + stored("VORBIS")[4:cut]), io.BytesIO())


def test_a_damaged_page_is_told() -> None:
    original = bytearray(stored("VORBIS"))
    original[-5] ^= 1
    with pytest.raises(ValueError, match="damaged page"):
        bare_sound(io.BytesIO(original), io.BytesIO())


@given(st.lists(st.binary(max_size=70_000), min_size=1, max_size=4), st.integers(0, 9))
@settings(max_examples=30, deadline=None)
def test_packets_laid_out_in_pages_read_back_as_they_were(packets: list[bytes], stream: int) -> None:
    laid_out = b"".join(_as_bytes(page, place) for place, page in enumerate(_laid_out(packets, stream, 2)))
    pages = _pages(io.BytesIO(laid_out))
    assert _heads(next(pages), pages, len(packets)) == packets


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_a_head_of_anything_is_told(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from([b"OpusHead", b"\1vorbis"]))
    packets = [kind + data.draw(st.binary(max_size=40)), *data.draw(st.lists(st.binary(max_size=300), max_size=3))]
    pages = [*_laid_out(packets[:1], 5, 2), *(_laid_out(packets[1:], 5) if packets[1:] else ())]
    content, out = b"".join(_as_bytes(page, place) for place, page in enumerate(pages)), io.BytesIO()
    with pytest.raises(ValueError, match=r"Ogg|as its form says"):
        bare_sound(io.BytesIO(content), out)
