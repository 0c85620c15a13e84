"""A photograph as it may be published: upright, sRGB, in three widths, without metadata."""

from __future__ import annotations

import io
from dataclasses import dataclass

from PIL import Image, ImageFile

from benchrecord.figures.colour import in_srgb, profile_of

FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")
LONGEST = (1920, 960, 640)  # pixels of the longer side
WIDE, WIDEST = 2.0, 2.0  # a panorama beyond 2:1 keeps the area of one of 2:1, up to twice the length
NEARLY = 0.8  # a size that is hardly smaller than the one before is left out
LEAST_SSIM = (
    0.93  # of a photograph against itself before it was coded; the qualities are the least at which all of a set reach it
)
WEBP_QUALITY, JPEG_QUALITY, WEBP_METHOD = {1920: 85, 960: 85, 640: 75}, 75, 2
PRINT_QUALITY = 88  # a little more than on a screen: paper is looked at closely
ORIENTATION = 0x0112
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180, 4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270, 7: Image.Transpose.TRANSVERSE, 8: Image.Transpose.ROTATE_90,
}  # fmt: skip

Size = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Rendition:
    """One size of a photograph."""

    width: int
    height: int
    ending: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Published:
    """All sizes of a photograph, and its mean colour (``#rrggbb``)."""

    tone: str
    renditions: tuple[Rendition, ...]


def publishable(original: bytes) -> Published:
    """Return a photograph without anything that a camera wrote beside its pixels.

    Raises
    ------
    OSError
        Where the bytes are no picture, or half of one.
    """
    sizes = in_each_size(drawn_anew(original))
    mean = sizes[-1].resize((1, 1), Image.Resampling.BOX).getpixel((0, 0))
    webp = [encoded(s, "webp", quality=webp_quality(s.size)) for s in sizes]
    jpeg = encoded(sizes[min(1, len(sizes) - 1)], "jpg", quality=JPEG_QUALITY)
    return Published("#%02x%02x%02x" % mean, (*webp, jpeg))  # type: ignore[str-format]  # noqa: UP031  # an RGB pixel


def for_print(original: bytes) -> bytes:
    """Return the largest size of a photograph as a JPEG, without anything but its pixels: what a page of paper shows of it."""
    return encoded(drawn_anew(original), "jpg", quality=PRINT_QUALITY).data


def drawn_anew(original: bytes) -> Image.Image:
    """Return the largest size of a photograph: upright, in sRGB, on white, and nothing but pixels."""
    ImageFile.LOAD_TRUNCATED_IMAGES = (
        False  # some libraries set it for the whole process, and half a picture would pass for one
    )
    with Image.open(io.BytesIO(original), formats=_formats(original)) as image:
        size = sizes_of(image.size)[0]
        if image.format in ("JPEG", "MPO"):
            image.draft("RGB", size)  # a JPEG is read no larger than needed
        image.load()
        turn, profile = image.getexif().get(ORIENTATION), profile_of(image)
        largest = resized(_eight_bits(image), size)
    upright = _on_white(largest, profile)
    return upright.transpose(TURNS[turn]) if turn in TURNS else upright


def in_each_size(largest: Image.Image) -> list[Image.Image]:
    """Return a photograph in all sizes that it is published in, from the largest of them."""
    made = [largest]
    for size in sizes_of(largest.size)[1:]:
        made.append(resized(made[-1], size))
    return made


def sizes_of(size: Size) -> list[Size]:
    """Return the sizes that a picture of ``size`` pixels is published in, the largest first; never larger than it is."""
    long, short = max(size), min(size)
    wide = min(max(long / short / WIDE, 1.0) ** 0.5, WIDEST)
    found = [size] if long <= LONGEST[0] * wide else []
    for longest in LONGEST:
        scale = longest * wide / long
        step = (max(1, round(size[0] * scale)), max(1, round(size[1] * scale)))
        if not found or max(step) <= NEARLY * max(found[-1]):
            found.append(step)
    return found


def _formats(original: bytes) -> tuple[str, ...]:
    """Return the formats that a file may be read as, by how it begins."""
    if original[4:8] != b"ftyp":
        return FORMATS
    from pillow_heif import register_heif_opener  # noqa: PLC0415  # it takes a tenth of a second to load, and most jobs have no HEIC

    register_heif_opener()
    return ("HEIF",)


def _eight_bits(image: Image.Image) -> Image.Image:
    """Return a picture as RGB, RGBA, L, CMYK or LAB; in grey of more than eight bits 65535, or 1 of shares, becomes 255."""
    if image.mode.startswith(("I", "F")):
        grey = image.convert("F")
        white = 1.0 if image.mode == "F" and float(grey.getextrema()[1]) <= 1 else 65535.0  # type: ignore[arg-type]  # one band
        return grey.point(lambda v: v * (255 / white)).convert("L")
    if image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info:
        return image.convert("RGBA")
    if image.mode == "1":
        return image.convert("L")
    return image if image.mode in ("RGB", "L", "CMYK", "LAB") else image.convert("RGB")


def _on_white(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Paste a picture, in sRGB, into a fresh one: nothing but pixels is left."""
    veil = image.getchannel("A") if image.mode == "RGBA" else None
    fresh = Image.new("RGB", image.size, "white")
    fresh.paste(in_srgb(image.convert("RGB") if veil else image, profile), (0, 0), veil)
    return fresh


def resized(image: Image.Image, size: Size) -> Image.Image:
    """Return a picture reduced to so many pixels."""
    return image if image.size == size else image.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0)


def webp_quality(size: Size) -> int:
    """Return the quality for a size: that of the nearest published width that is no smaller."""
    return next((WEBP_QUALITY[w] for w in reversed(LONGEST) if max(size) <= w), WEBP_QUALITY[LONGEST[0]])


def encoded(image: Image.Image, ending: str, *, quality: int) -> Rendition:
    """Return a picture as a file, WebP or JPEG."""
    out = io.BytesIO()
    if ending == "webp":
        image.save(out, "WEBP", quality=quality, method=WEBP_METHOD)
    else:
        image.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
    return Rendition(image.width, image.height, ending, out.getvalue())
