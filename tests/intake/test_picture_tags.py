"""What a picture tells beside its pixels is its own words, not the names that every packet of XMP has."""

from __future__ import annotations

import pytest

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
