"""Photographs as they are published: upright, in three sizes, and nothing in them but the picture."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import pytest
from PIL import Image, ImageCms, PngImagePlugin

from benchrecord.figures.photo import Published, publishable

SECRETS = ("SERIAL-77", "Ottilie", "51.5")


def encoded(image: Image.Image, kind: str = "JPEG", **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)  # type: ignore[arg-type]  # as Pillow takes them
    return out.getvalue()


def opened(published: Published, number: int = -1) -> Image.Image:
    return Image.open(io.BytesIO(published.renditions[number].data))


def corners() -> Image.Image:
    """A picture whose upper left corner is red and whose lower right one is blue."""
    image = Image.new("RGB", (120, 80), "white")
    image.paste("red", (0, 0, 40, 30))
    image.paste("blue", (80, 50, 120, 80))
    return image


TURNS = {2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180, 4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_90, 7: Image.Transpose.TRANSVERSE, 8: Image.Transpose.ROTATE_270}  # fmt: skip


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_is_turned_upright(orientation: int) -> None:
    """The camera's orientation says how the stored picture is to be turned: CIPA DC-008, tag 0x0112."""
    stored = corners().transpose(TURNS[orientation]) if orientation in TURNS else corners()
    exif = Image.Exif()
    exif[0x0112] = orientation
    upright = opened(publishable(encoded(stored, quality=95, exif=exif)))
    assert upright.size == (120, 80)
    (r1, _, b1), (r2, _, b2) = upright.getpixel((8, 8)), upright.getpixel((112, 72))  # type: ignore[misc]  # RGB
    assert r1 > b1 + 100
    assert b2 > r2 + 100


@pytest.mark.parametrize(
    ("image", "kind"),
    [
        (Image.new("RGB", (50, 40), "teal"), "JPEG"),
        (Image.new("L", (50, 40), 90), "JPEG"),
        (Image.new("CMYK", (50, 40), (10, 20, 30, 0)), "JPEG"),
        (Image.new("RGBA", (50, 40), (255, 0, 0, 0)), "PNG"),
        (Image.new("LA", (50, 40), (90, 128)), "PNG"),
        (Image.new("P", (50, 40), 3), "PNG"),
        (Image.new("1", (50, 40), 1), "PNG"),
        (Image.new("I;16", (50, 40), 40000), "PNG"),
        (Image.new("F", (50, 40), 0.5), "TIFF"),
        (Image.new("RGB", (1, 1), "teal"), "PNG"),
        (Image.new("RGB", (3000, 2), "teal"), "PNG"),
        (Image.new("RGB", (50, 40), "teal"), "WEBP"),
    ],
    ids=["rgb", "grey", "cmyk", "rgba", "grey-alpha", "palette", "one-bit", "sixteen-bit", "float", "tiny", "line", "webp"],
)
def test_every_kind_of_picture_becomes_one_for_a_page(image: Image.Image, kind: str) -> None:
    made = publishable(encoded(image, kind))
    assert made.tone.startswith("#")
    assert len(made.tone) == 7
    for number in range(len(made.renditions)):
        assert opened(made, number).convert("RGB").size[0] >= 1


def test_what_is_transparent_becomes_white() -> None:
    made = publishable(encoded(Image.new("RGBA", (50, 40), (255, 0, 0, 0)), "PNG"))
    assert opened(made).getpixel((20, 20)) == (255, 255, 255)


def test_sizes_go_down_from_the_longest_and_are_never_enlarged() -> None:
    large = publishable(encoded(Image.new("RGB", (4000, 3000), "teal")))
    small = publishable(encoded(Image.new("RGB", (700, 500), "teal")))
    assert [(r.ending, r.width, r.height) for r in large.renditions] == [
        ("webp", 1920, 1440), ("webp", 960, 720), ("webp", 480, 360), ("jpg", 960, 720),
    ]  # fmt: skip
    assert [(r.ending, r.width) for r in small.renditions] == [("webp", 700), ("webp", 480), ("jpg", 480)]


def test_the_same_picture_gives_the_same_bytes() -> None:
    original = encoded(corners())
    assert publishable(original) == publishable(original)


def telling() -> list[bytes]:
    """Pictures that say more than they show: Exif with a place, XMP, a comment, PNG text, a colour profile."""
    exif = Image.Exif()
    exif[0x013B], exif[0xA431], exif[0x010F] = "Ottilie", "SERIAL-77", "Camera"
    exif.get_ifd(0x8825)[2] = (51.5, 30.0, 0.0)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    text = PngImagePlugin.PngInfo()
    text.add_text("Author", "Ottilie SERIAL-77")
    return [
        encoded(corners(), exif=exif, comment=b"SERIAL-77", icc_profile=profile, xmp=b"<x>Ottilie</x>"),
        encoded(corners(), "PNG", pnginfo=text, exif=exif, icc_profile=profile),
        encoded(corners(), "WEBP", exif=exif, xmp=b"<x>Ottilie</x>"),
        encoded(corners(), "TIFF", exif=exif),
    ]


@pytest.mark.parametrize("original", telling(), ids=["jpeg", "png", "webp", "tiff"])
def test_nothing_of_what_a_picture_says_beside_its_pixels_is_published(original: bytes, tmp_path: Path) -> None:
    assert any(s.encode() in original for s in SECRETS)
    made = publishable(original)
    for number, rendition in enumerate(made.renditions):
        image = opened(made, number)
        assert dict(image.getexif()) == {}
        assert set(image.info) <= {
            "jfif",
            "jfif_version",
            "jfif_unit",
            "jfif_density",
            "progressive",
            "progression",
            "loop",
            "background",
        }
        assert not any(s.encode() in rendition.data for s in SECRETS)
        (tmp_path / f"{number}.{rendition.ending}").write_bytes(rendition.data)
    program = shutil.which("exiftool")
    if program is None:
        pytest.skip("exiftool is not here: apt-get install libimage-exiftool-perl")
    said = subprocess.run([program, "-a", "-G1", "-s", tmp_path], capture_output=True, text=True, check=True).stdout
    groups = {line.split("]")[0].lstrip("[") for line in said.splitlines() if line.startswith("[")}
    assert groups <= {"ExifTool", "System", "File", "JFIF", "RIFF", "Composite"}


def test_bytes_that_are_no_picture_raise() -> None:
    with pytest.raises(OSError, match="cannot identify"):
        publishable(b"no picture")


def swapped_primaries() -> bytes:
    """An RGB profile whose red is sRGB's blue, and the other way round: the names of two tags are swapped."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return profile.replace(b"rXYZ", b"????", 1).replace(b"bXYZ", b"rXYZ", 1).replace(b"????", b"bXYZ", 1)


@pytest.mark.parametrize(
    ("image", "kind"),
    [
        (Image.new("RGB", (50, 40), "red"), "JPEG"),
        (Image.new("RGBA", (50, 40), (255, 0, 0, 255)), "PNG"),
        (Image.new("RGB", (50, 40), "red").convert("P", palette=Image.Palette.ADAPTIVE, colors=2), "PNG"),
    ],
    ids=["rgb", "with-transparency", "palette"],
)
def test_colours_are_those_that_the_profile_means(image: Image.Image, kind: str) -> None:
    red, _, blue = opened(publishable(encoded(image, kind, icc_profile=swapped_primaries()))).getpixel((20, 20))  # type: ignore[misc]  # RGB
    assert (red < 20, blue > 235) == (True, True)


@pytest.mark.parametrize("profile", [b"", b"no profile" * 30])
def test_a_profile_that_cannot_be_read_says_nothing(profile: bytes) -> None:
    plain, told = (publishable(encoded(corners(), icc_profile=p)) for p in (b"", profile))
    assert plain == told


@pytest.mark.parametrize(
    ("mode", "value", "kind", "grey"),
    [
        ("I;16", 65535, "PNG", 255),
        ("I;16", 32896, "TIFF", 128),
        ("I", 65535, "TIFF", 255),
        ("F", 0.5, "TIFF", 127),
        ("L", 90, "PNG", 90),
    ],
)
def test_grey_stays_as_light_as_it_was(mode: str, value: float, kind: str, grey: int) -> None:
    pixel = opened(publishable(encoded(Image.new(mode, (50, 40), value), kind))).getpixel((20, 20))
    assert isinstance(pixel, tuple)
    assert all(abs(band - grey) <= 1 for band in pixel)


def test_half_transparent_grey_is_mixed_with_white() -> None:
    (grey, *_) = opened(publishable(encoded(Image.new("LA", (50, 40), (0, 128)), "PNG"))).getpixel((20, 20))  # type: ignore[misc]  # RGB
    assert abs(grey - 127) <= 1


@pytest.mark.parametrize("exif", [b"Exif\0\0", b"Exif\0\0nothing like it", b"Exif\0\0MM\0*\0\0\0\x08\xff\xff"])
@pytest.mark.filterwarnings("ignore:Corrupt EXIF")
def test_broken_camera_data_spoil_no_picture(exif: bytes) -> None:
    plain = encoded(corners())
    broken = plain[:2] + b"\xff\xe1" + (len(exif) + 2).to_bytes(2, "big") + exif + plain[2:]
    assert publishable(broken) == publishable(plain)


def test_half_a_picture_raises() -> None:
    whole = encoded(corners())
    with pytest.raises(OSError, match=r"[Tt]runcated"):
        publishable(whole[: len(whole) // 2])
