"""Making pictures for tests: of every format, turned, in a colour space, with what cameras write beside the pixels."""

from __future__ import annotations

import io
from typing import Any

from PIL import Image
from pillow_heif import register_heif_opener

register_heif_opener()
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF")
TURNS = {2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180, 4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_90, 7: Image.Transpose.TRANSVERSE, 8: Image.Transpose.ROTATE_270}  # fmt: skip


def encoded(image: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    """Return a picture as a file."""
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def corners() -> Image.Image:
    """Return a picture whose upper left corner is red and whose lower right one is blue."""
    image = Image.new("RGB", (120, 80), "white")
    image.paste("red", (0, 0, 40, 30))
    image.paste("blue", (80, 50, 120, 80))
    return image


def turned(orientation: int, kind: str, image: Image.Image | None = None) -> bytes:
    """Store a picture so that its orientation tag turns it upright; HEIC has a box of its own for that, which its writer makes of the tag."""
    upright = image or corners()
    stored = upright.transpose(TURNS[orientation]) if orientation in TURNS else upright.copy()
    exif = Image.Exif()
    exif[0x0112] = orientation
    if kind == "HEIF":
        stored.info["exif"] = exif.tobytes()
        return encoded(stored, kind, quality=95)
    return encoded(stored, kind, exif=exif, **({} if kind in ("PNG", "TIFF") else {"quality": 95}))
