"""A photograph drawn anew as another camera would have seen it, from its own pixels."""

from __future__ import annotations

import io
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache

from PIL import Image

from benchrecord.bench.warp import Piece
from benchrecord.figures.photo import encoded, webp_quality

WORKERS = 2
Pixels = Image.Image


@lru_cache(maxsize=2 * WORKERS)  # a photograph is drawn from dozens of times, one after the other; 8 MB each
def decoded(picture: bytes) -> Pixels:
    """Return a published picture's pixels."""
    with Image.open(io.BytesIO(picture)) as image:
        return image.convert("RGB")


def warped(image: Pixels, pieces: Sequence[Piece], size: tuple[int, int], *, beyond: str) -> Pixels:
    """Return a picture of ``size`` pixels, drawn piece by piece; what the old one does not show gets the colour ``beyond``."""
    new = Image.new("RGB", size, beyond)

    def draw(piece: Piece) -> Pixels:
        left, top, right, bottom = piece.box
        how, by = Image.Transform.PERSPECTIVE, Image.Resampling.BICUBIC
        return image.transform((right - left, bottom - top), how, piece.coefficients, by, fillcolor=beyond)

    with ThreadPoolExecutor(WORKERS) as pool:
        for piece, drawn in zip(pieces, pool.map(draw, pieces), strict=True):
            new.paste(drawn, piece.box[:2])
    return new


def webp(image: Pixels) -> bytes:
    """Return a picture as photographs of its size are published: it stands beside them."""
    return encoded(image, "webp", quality=webp_quality(image.size)).data
