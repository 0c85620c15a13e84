"""The marks of the photographs as Web Annotations on the originals that lie beside them."""

from __future__ import annotations

import json
from collections.abc import Mapping

from benchrecord.model.annotations import Picture, annotation, annotation_page
from benchrecord.pages import addresses
from benchrecord.pages.view import View

FORMS = {"jpg": "image/jpeg", "jpeg": "image/jpeg", "png": "image/png", "webp": "image/webp", "tif": "image/tiff", "tiff": "image/tiff", "heic": "image/heic", "heif": "image/heif", "hif": "image/heif"}  # fmt: skip


def marks_on_originals(view: View, handed: Mapping[str, str]) -> bytes:
    """Return all marks as JSON-LD; ``handed`` gives the address of each photograph that goes along, as seen from this file."""
    made = []
    for photo in (p for p in view.job.photos if p.file in handed):
        page = f"../site/jobs/{view.job.id}/photos.html#{addresses.photo_anchor(photo.file)}"
        form = FORMS.get(photo.file.rpartition(".")[2].lower(), "image/jpeg")
        picture = Picture(handed[photo.file], (photo.width, photo.height), form, page)
        marks = [m for m in view.job.marks if m.photo == photo.file]
        made += [annotation(m, f"#{addresses.mark_anchor(photo.file, n)}", picture) for n, m in enumerate(marks, 1)]
    return (json.dumps(annotation_page("marks.jsonld", made), indent=1, ensure_ascii=False) + "\n").encode() if made else b""
