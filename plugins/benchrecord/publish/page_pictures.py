"""Pictures of hand-written pages: published without metadata, or refused where it cannot be removed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from mkdocs.structure.files import File, Files

from benchrecord.intake.picture_file import ENDINGS
from benchrecord.intake.picture_tags import has_metadata
from benchrecord.problems import Place, Problem
from benchrecord.record.bare_pictures import bare_picture

OTHERS = (".gif", ".avif", ".bmp", ".jfif", ".apng", ".jxl")  # that browsers show
PNG_ANIMATION = b"acTL"  # W3C PNG 3rd edition: the frames behind the first would be lost
REMEDY = "save it anew as JPEG, PNG or WebP without metadata"


def strip_pictures(files: Files, docs: Path) -> Iterator[Problem]:
    """Remove the metadata of each picture among the sources of a site, ``docs``; yield a problem where that cannot be done.

    Pixels stay as they were coded, and so do orientation and colours. No file of the user's is changed.
    """
    for file in files:
        ending = Path(file.src_uri).suffix.lower()
        if file.abs_src_path and file.src_dir == str(docs) and ending in (*ENDINGS, *OTHERS):
            yield from _strip(file, Path(file.abs_src_path).read_bytes(), docs)


def _strip(file: File, original: bytes, docs: Path) -> Iterator[Problem]:
    try:
        stripped = None if PNG_ANIMATION in original[:4096] else bare_picture(original, own=False)
    except ValueError:
        stripped, damaged = None, True
    else:
        damaged = False
    if stripped is None and (damaged or has_metadata(original)):
        got = "a picture that is damaged" if damaged else "a picture whose metadata cannot be removed from this format"
        yield Problem("picture-metadata", Place(f"{docs.name}/{file.src_uri}"), got, "a picture without metadata", REMEDY)
    elif stripped is not None and stripped != original:
        file.content_bytes = stripped
