"""Pictures of hand-written pages: published without metadata, with the same pixels and the same way up."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import Files, get_files
from PIL import Image, ImageCms, ImageOps, PngImagePlugin

from benchrecord.intake.picture_tags import Told, told_by
from benchrecord.problems import Problem
from benchrecord.publish.page_pictures import strip_pictures
from folders import write
from pictures import corners, encoded, turned

CANARY = "Quillfeather"
ENDINGS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "TIFF": "tif", "HEIF": "heic"}


def stripped(docs: Path, contents: dict[str, bytes]) -> tuple[dict[str, bytes], list[Problem]]:
    """Return what is published of files among the pages, and the problems."""
    for name, content in contents.items():
        (docs / name).parent.mkdir(parents=True, exist_ok=True)
        (docs / name).write_bytes(content)
    config = MkDocsConfig()
    config.load_dict({"docs_dir": str(docs), "site_dir": str(docs.parent / "site")})
    files: Files = get_files(config)
    problems = [*strip_pictures(files, docs)]
    assert {name: (docs / name).read_bytes() for name in contents} == contents  # nothing of the user's is changed
    return {file.src_uri: file.content_bytes for file in files}, problems


def with_metadata(kind: str) -> bytes:
    """Return a picture that is stored on its side, with a place, texts, and a colour profile that names its display."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0xA431] = 6, CANARY, CANARY
    exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0), 3: "E", 4: (1.0, 2.0, 3.0)})
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes() + CANARY.encode()
    profile = len(profile).to_bytes(4, "big") + profile[4:]
    return encoded(corners().transpose(Image.Transpose.ROTATE_90), kind, exif=exif.tobytes(), icc_profile=profile)


def upright(data: bytes) -> bytes:
    with Image.open(io.BytesIO(data)) as image:
        return ImageOps.exif_transpose(image).convert("RGB").tobytes()


@pytest.mark.parametrize("kind", ENDINGS)
def test_metadata_is_removed_and_pixels_stay(tmp_path: Path, kind: str) -> None:
    original, name = with_metadata(kind), f"about/me.{ENDINGS[kind]}"
    assert CANARY.encode() in original or kind == "PNG"  # there it is packed
    made, problems = stripped(tmp_path / "docs", {name: original})
    assert problems == []
    assert CANARY.encode() not in made[name]
    assert told_by(made[name]).place is None
    assert CANARY not in " ".join(told_by(made[name]).texts)
    with Image.open(io.BytesIO(made[name])) as image:
        assert CANARY.encode() not in image.info.get("icc_profile", b"")
    assert upright(made[name]) == upright(original)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_stays_upright(tmp_path: Path, orientation: int) -> None:
    original = turned(orientation, "JPEG")
    made, _ = stripped(tmp_path / "docs", {"a.JPG": original})
    assert upright(made["a.JPG"]) == upright(original)


def animated(kind: str, **more: object) -> bytes:
    return encoded(corners(), kind, save_all=True, append_images=[corners().rotate(180)], **more)


def test_what_cannot_be_stripped_is_a_problem_with_its_file_and_a_remedy(tmp_path: Path) -> None:
    text = PngImagePlugin.PngInfo()
    text.add_text("Author", CANARY)
    contents = {
        "a/b.gif": animated("GIF", comment=CANARY),
        "c.png": animated("PNG", pnginfo=text),
        "d.jpg": b"\xff\xd8\xff\xe0\0\x10",
    }
    _, problems = stripped(tmp_path / "docs", contents)
    assert {(p.code, p.place.file) for p in problems} == {("picture-metadata", f"docs/{name}") for name in contents}
    assert all(p.remedy for p in problems)


def test_a_site_has_them_stripped(tmp_path: Path) -> None:
    original = with_metadata("JPEG")
    write(tmp_path / "my-job", {"job.yml": "title: T\npublish: yes\n"})
    (tmp_path / "docs").mkdir()
    (tmp_path / "docs/me.jpg").write_bytes(original)
    (tmp_path / "docs/index.md").write_text("![me](me.jpg)\n", "utf-8")
    config = tmp_path / "mkdocs.yml"
    config.write_text("site_name: T\nplugins: [benchrecord-jobs: {folders: [my-job]}]\n", "utf-8")
    build(load_config(str(config)))
    made = (tmp_path / "site/me.jpg").read_bytes()
    assert CANARY.encode() not in made
    assert upright(made) == upright(original)
    assert (tmp_path / "docs/me.jpg").read_bytes() == original


def test_what_has_no_metadata_is_published_as_it_is(tmp_path: Path) -> None:
    contents = {
        "a.png": encoded(corners(), "PNG"),
        "b.gif": animated("GIF"),
        "c.png": animated("PNG"),
        "d.txt": b"\xff\xd8\xff",
    }
    made, problems = stripped(tmp_path / "docs", contents)
    assert problems == []
    assert made == contents
    assert all(told_by(data) == Told() for name, data in made.items() if name.endswith("png"))
