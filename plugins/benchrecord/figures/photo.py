"""A photograph as it may be published: upright, sRGB, in three sizes, without metadata."""

from __future__ import annotations

import io
from dataclasses import dataclass

from PIL import Image, ImageCms, ImageOps

LONGEST = (1920, 960, 480)  # pixels of the longer side
JPEG_QUALITY, WEBP_QUALITY, WEBP_METHOD = 82, 80, 0
SRGB = ImageCms.createProfile("sRGB")


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
        Where the bytes are no picture.
    """
    with Image.open(io.BytesIO(original)) as image:
        image.draft("RGB", (LONGEST[0], LONGEST[0]))  # a JPEG is read no larger than needed
        upright = _plain(image)
    sizes = _cascade(upright)
    mean = sizes[-1].resize((1, 1), Image.Resampling.BOX).getpixel((0, 0))
    webp = [_encoded(s, "webp", quality=WEBP_QUALITY, method=WEBP_METHOD) for s in sizes]
    middle = sizes[min(1, len(sizes) - 1)]
    jpeg = _encoded(middle, "jpg", quality=JPEG_QUALITY, optimize=True, progressive=True)
    return Published("#%02x%02x%02x" % mean, (*webp, jpeg))  # type: ignore[str-format]  # noqa: UP031  # an RGB pixel


def _plain(image: Image.Image) -> Image.Image:
    """Turn upright, bring to sRGB, put on white, and paste into a fresh picture: nothing but pixels is left."""
    profile = image.info.get("icc_profile")
    turned, veil = _eight_bits(ImageOps.exif_transpose(image)), None
    if turned.mode in ("RGBA", "LA", "PA") or "transparency" in turned.info:
        veil = turned.convert("RGBA").getchannel("A")
        turned = turned.convert("RGBA").convert("RGB")
    if turned.mode == "P":
        turned = turned.convert("RGB")
    if profile and turned.mode in ("RGB", "L", "CMYK"):
        turned = _in_srgb(turned, profile)
    fresh = Image.new("RGB", turned.size, "white")
    fresh.paste(turned.convert("RGB"), (0, 0), veil)
    return fresh


def _eight_bits(image: Image.Image) -> Image.Image:
    """Bring a grey picture of more than eight bits down to them: 65535, or 1 of a picture in shares, becomes 255."""
    if not image.mode.startswith(("I", "F")):
        return image
    grey = image.convert("F")
    white = 1.0 if image.mode == "F" and float(grey.getextrema()[1]) <= 1 else 65535.0  # type: ignore[arg-type]  # one band
    return grey.point(lambda v: v * (255 / white)).convert("L")


def _in_srgb(image: Image.Image, profile: bytes) -> Image.Image:
    try:
        found = ImageCms.profileToProfile(image, io.BytesIO(profile), SRGB, outputMode="RGB")
    except ImageCms.PyCMSError:
        return image  # a profile that cannot be read says nothing
    return found or image


def _cascade(image: Image.Image) -> list[Image.Image]:
    """Reduce step by step, each size from the one before; never enlarge."""
    sizes = [image]
    for longest in LONGEST:
        larger = sizes[-1]
        if max(larger.size) > longest:
            scale = longest / max(larger.size)
            smaller = (max(1, round(larger.width * scale)), max(1, round(larger.height * scale)))
            sizes.append(larger.resize(smaller, Image.Resampling.LANCZOS, reducing_gap=3.0))
    return sizes[1:] if max(image.size) > LONGEST[0] else sizes


def _encoded(image: Image.Image, ending: str, **options: float) -> Rendition:
    out = io.BytesIO()
    image.save(out, {"jpg": "JPEG", "webp": "WEBP"}[ending], **options)
    return Rendition(image.width, image.height, ending, out.getvalue())
