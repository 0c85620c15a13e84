"""The marks of a job as a file of Web Annotations, for other programs to read."""

from __future__ import annotations

import json
from typing import Any

from benchrecord.model.annotations import Picture, annotation, annotation_page
from benchrecord.model.job import Mark, Photo
from benchrecord.model.references import Target
from benchrecord.pages import addresses
from benchrecord.pages.view import View

FILE = "marks.jsonld"


def marks_jsonld(view: View) -> str:
    """Return all marks of the photographs that are shown, as JSON-LD; empty where there are none."""
    made = [
        _annotation(view, photo, mark, number)
        for photo in view.job.photos
        if photo.file in view.pictures.photos
        for number, mark in enumerate([m for m in view.job.marks if m.photo == photo.file], 1)
    ]
    return json.dumps(annotation_page(FILE, made), indent=1, ensure_ascii=False) + "\n" if made else ""


def _annotation(view: View, photo: Photo, mark: Mark, number: int) -> dict[str, Any]:
    largest = view.pictures.photos[photo.file].sizes[-1]
    shown = addresses.from_data(addresses.to_page(view.job.id, "photos", addresses.photo_anchor(photo.file)))
    source = f"../assets/{largest.src.rpartition('/')[2]}"
    part = view.index.part(mark.ref, photo.board) if mark.ref else None
    link = addresses.from_data(addresses.of(view.job, part)) if isinstance(part, Target) else ""
    picture = Picture(source, (largest.width, largest.height), "image/webp", shown)
    return annotation(mark, f"#{addresses.mark_anchor(photo.file, number)}", picture, link)
