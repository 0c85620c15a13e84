"""What a picture tells beside its pixels is its own words, not the names that every packet of XMP has."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from benchrecord.intake.picture_tags import told_by
from pictures import corners, encoded

NAMES = 'xmlns:x="adobe:ns:meta/" xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"'


@pytest.mark.parametrize(
    ("packet", "said"),
    [
        (f"<x:xmpmeta {NAMES}><dc:creator><rdf:li>Ottilie M</rdf:li></dc:creator></x:xmpmeta>", ("Ottilie M",)),
        (f'<x:xmpmeta {NAMES} x:note="5 > 3"/>', ("5", "3")),
        ('  xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">', ()),
        ("Taken at 5 > 3, by <me>", ("Taken at 5 > 3, by <me>",)),
    ],
)
def test_names_of_xmp_are_nobody_s_words(packet: str, said: tuple[str, ...]) -> None:
    told = told_by(encoded(corners(), "JPEG", comment=packet.encode()))
    assert tuple(t for t in told.texts if not t.replace(".", "").isdigit() or t in said) == said


def tagged(kind: str) -> bytes:
    out, exif = io.BytesIO(), Image.Exif()
    exif[0x010E] = "Ottilie M"
    Image.new("RGB", (8, 8)).save(out, kind, exif=exif)
    return out.getvalue()


def test_a_thumbnail_that_looks_like_the_beginning_of_pixels_hides_nothing() -> None:
    """A segment may hold any bytes, those of a scan's marker too: JFIF, segment APP0."""
    whole = tagged("JPEG")
    first = b"\xff\xe0\x00\x16JFIF\0\1\2\0\0\1\0\1\1\2\xff\xda\xff\xda\xff\xda"
    assert told_by(whole[:2] + first + whole[2:]).texts == ("Ottilie M",)


@pytest.mark.parametrize("kind", ["JPEG", "WEBP"])
def test_half_a_picture_tells_something_or_nothing(kind: str) -> None:
    whole = tagged(kind)
    assert told_by(whole).texts == ("Ottilie M",)
    assert {told_by(whole[:length]).texts for length in range(len(whole))} <= {(), ("Ottilie M",)}
