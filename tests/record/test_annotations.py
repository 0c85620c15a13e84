"""Marks lie on originals, whatever form these have."""

from __future__ import annotations

from benchrecord.intake.picture_file import ENDINGS
from benchrecord.record.annotations import FORMS


def test_every_ending_of_a_picture_is_named_by_its_form() -> None:
    assert {ending.removeprefix(".") for ending in ENDINGS} == FORMS.keys()
