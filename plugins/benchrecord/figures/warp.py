"""A photograph drawn anew as another camera would have seen it, from its own pixels."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache

from PIL import Image

from benchrecord.bench.warp import Piece
from benchrecord.figures.photo import encoded, webp_quality

WORKERS, SMALL_PX = 2, 100_000  # pixels of a picture that is drawn sooner than threads are started
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

    if size[0] * size[1] < SMALL_PX:
        _paste(new, pieces, map(draw, pieces))
    else:
        with ThreadPoolExecutor(WORKERS) as pool:
            _paste(new, pieces, pool.map(draw, pieces))
    return new


def _paste(new: Pixels, pieces: Sequence[Piece], drawn: Iterable[Pixels]) -> None:
    for piece, pixels in zip(pieces, drawn, strict=True):
        new.paste(pixels, piece.box[:2])


def webp(image: Pixels) -> bytes:
    """Return a picture as photographs of its size are published: it stands beside them."""
    return encoded(image, "webp", quality=webp_quality(image.size)).data
