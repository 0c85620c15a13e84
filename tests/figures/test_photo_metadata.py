"""Nothing of what a picture says beside its pixels is published: no tag of the list of private ones, in no format.

Source of the list: ``reference/15-private-photo-tags.csv`` (CIPA DC-008, DNG, XMP part 3). The witness is exiftool.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from benchrecord.figures.photo import publishable
from folders import write
from reference.published import rows
from telling import KINDS, TELLTALE, numbers, pieces, telling

LIST = rows("15-private-photo-tags.csv")
EXIFTOOL = shutil.which("exiftool")
needs_exiftool = pytest.mark.skipif(EXIFTOOL is None, reason="exiftool is not here: apt-get install libimage-exiftool-perl")
OF_THE_FILE = {"ExifTool", "System", "File", "Composite"}
OF_THE_CODING = {
    "JFIFVersion", "ResolutionUnit", "XResolution", "YResolution",  # what a JPEG begins with: 1 by 1, of no unit
    "VP8Version", "ImageWidth", "ImageHeight", "HorizontalScale", "VerticalScale",
}  # fmt: skip
SHOWN_AS = {
    0x02BC: "XMP-dc",
    0x8649: "IPTC",
    0x83BB: "IPTC",
    0x927C: "Unrecognized MakerNotes",
}  # exiftool shows what is in them
ENDINGS = {"JPEG": "jpg", "MPO": "jpeg", "PNG": "png", "TIFF": "tif", "WEBP": "webp", "HEIF": "heic"}
CARRIERS = {  # what the rows that name no tag of Exif look like in exiftool's list, in the first of KINDS that has it
    "1st IFD (thumbnail)": ("JPEG", r"\[IFD1\] +0x0201 ThumbnailOffset"),
    "JPEG APP1": ("JPEG", r"\[XMP-dc\] .* Source"),
    "JPEG APP13": ("JPEG", r"\[IPTC\] .* By-line"),
    "JPEG COM": ("JPEG", r"\[File\] .* Comment"),
    "JPEG APP2": ("MPO", r"\[MPF0\] .* NumberOfImages +: 2"),
    "PNG": ("PNG", r"\[PNG\] .* (?:Author|Comment|ModifyDate)"),
    "WebP": ("WEBP", r"\[XMP-dc\] .* Source"),
    "HEIF": ("HEIF", r"\[XMP-dc\] .* Source"),
}


def asked(*paths: Path) -> str:
    """Return all that exiftool finds, with the groups and numbers of tags."""
    words = [str(EXIFTOOL), "-a", "-u", "-U", "-ee", "-H", "-G1", "-s", *map(str, paths)]
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


@needs_exiftool
@pytest.mark.parametrize("kind", KINDS)
def test_every_tag_of_the_list_is_in_the_picture_that_is_brought(kind: str, tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(telling(kind, LIST))
    said = asked(tmp_path / "a")
    found = {where: set(re.findall(rf"^\[{group}\] +(0x[0-9a-f]+) ", said, re.MULTILINE)) for where, group in (("Image", "IFD0"), ("Exif", "ExifIFD"), ("GPS IFD", "GPS"))}  # fmt: skip
    for where, have in found.items():
        missing = [n for n in numbers(LIST, where) if f"0x{n:04x}" not in have and SHOWN_AS.get(n, "nowhere") not in said]
        assert [f"{n:#x}" for n in missing] == []
    for carried, sign in CARRIERS.values():
        assert carried != kind or re.search(sign, said), sign


def test_every_row_of_the_list_is_one_of_those_that_are_looked_for() -> None:
    assert {row["where"] for row in LIST} == {"Image", "Exif", "GPS IFD", *CARRIERS}
    assert len(LIST) == 71


@needs_exiftool
@pytest.mark.parametrize("kind", KINDS)
def test_none_of_them_is_in_what_is_published(kind: str, tmp_path: Path) -> None:
    for number, rendition in enumerate(publishable(telling(kind, LIST)).renditions):
        (tmp_path / f"{number}.{rendition.ending}").write_bytes(rendition.data)
    said = re.findall(r"^\[(.+?)\] +\S+ (\S+) +:", asked(tmp_path), re.MULTILINE)
    assert {name for group, name in said if group not in OF_THE_FILE} <= OF_THE_CODING
    assert not {"Comment", "ExifByteOrder", "CurrentIPTCDigest"} & {name for _, name in said}


@pytest.mark.parametrize("kind", KINDS)
def test_a_published_picture_is_its_coding_and_nothing_else(kind: str) -> None:
    original = telling(kind, LIST)
    assert TELLTALE.encode() in original
    for rendition in publishable(original).renditions:
        allowed = {"VP8 "} if rendition.ending == "webp" else {"D8", "E0", "DB", "C2", "C4", "DA", "D9"}
        assert set(pieces(rendition.data)) <= allowed
        assert TELLTALE.encode() not in rendition.data
        assert b"SERIAL" not in rendition.data


@needs_exiftool
@pytest.mark.slow
def test_no_picture_of_a_built_site_says_more_than_it_shows(job: Path, tmp_path: Path) -> None:
    """Photographs, what is cut out of them, and pictures lined up with each other: every file of pixels that is published."""
    from benchrecord.publish.build import build  # noqa: PLC0415  # most tests do without mkdocs

    write(job, {f"photos/{kind.lower()}.{ENDINGS[kind]}": telling(kind, LIST) for kind in KINDS})
    points = "".join(
        f"      - {{mm: [{x}, {y}], px: [{2 * x}, {80 - 2 * y}]}}\n" for x, y in ((5, 5), (55, 5), (55, 35), (5, 35))
    )
    lined = "".join(
        f"  - file: photos/{n}\n    stage: {s}\n    points:\n{points}"
        for n, s in (("jpeg.jpg", "before"), ("png.png", "after"))
    )
    write(job, {"boards/b.yml": f"size_mm: [60, 40]\nphotos:\n{lined}", "boards/b.csv": "ref,x_mm,y_mm\nR1,20,20\nR2,40,20\n"})
    site = build([job], edition="archive", site_dir=tmp_path / "site", kinds=[])
    pictures = [p for p in (site / "jobs").rglob("*") if p.suffix in (".webp", ".jpg", ".jpeg", ".png")]
    assert len(pictures) > len(KINDS) + 2
    assert all(set(p.stem) <= set("0123456789abcdef-") for p in pictures)
    said = re.findall(r"^\[(.+?)\] +\S+ (\S+) +:", asked(*pictures), re.MULTILINE)
    assert {name for group, name in said if group not in OF_THE_FILE} <= OF_THE_CODING
    assert not any(TELLTALE.encode() in p.read_bytes() for p in site.rglob("*") if p.is_file())
