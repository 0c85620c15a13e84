"""What a board's pictures are drawn from: photographs that it is lined up with, and what is drawn anew from their published pixels."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache, partial
from typing import TYPE_CHECKING

from benchrecord.findings.placements import Placed
from benchrecord.model.job import Board, Job, Photo, PhotoStage
from benchrecord.model.references import part_key
from benchrecord.pages import addresses
from benchrecord.pages.view import BoardDrawing, PhotoPicture, Sized
from benchrecord.publish.cache import Cache

if TYPE_CHECKING:
    from benchrecord.bench.lens import Point
    from benchrecord.figures.board_map import MapFrame
    from benchrecord.figures.warp import Pixels

Layers = Mapping[str, frozenset[str]]
Source = Callable[[float, float], "Point"]  # from a pixel of a new picture to one of an old one
Size = tuple[int, int]


@dataclass(frozen=True)
class Shot:
    """A photo that a board is lined up with, as it is published; ``content`` is its largest size."""

    placed: Placed
    photo: Photo
    picture: PhotoPicture
    content: bytes

    @property
    def key(self) -> str:
        """What a picture made from it is kept by: its pixels, of which the published name is a digest, and its placement."""
        return repr((self.picture.sizes[-1].src, self.picture.tone, self.placed.size, self.placed.placement))

    @property
    def stage(self) -> PhotoStage | None:
        """Whether it shows the board as found, at work or as left."""
        return self.photo.stage or self.placed.photo.stage

    @property
    def bent(self) -> bool:
        """Whether its lens bends it."""
        return self.placed.placement.lens is not None

    @property
    def scale(self) -> float:
        """How many published pixels a pixel of the original is."""
        return self.picture.sizes[-1].width / self.placed.size[0]

    @property
    def pixels(self) -> Pixels:
        """The published pixels, decoded where they are needed."""
        from benchrecord.figures.warp import decoded  # noqa: PLC0415  # only where a picture must be made

        return decoded(self.content)

    def shows(self, x: float, y: float) -> bool:
        """Say whether a place of the board lies in the photo."""
        px, py = self.placed.placement.px(x, y)
        return 0 <= px <= self.placed.size[0] and 0 <= py <= self.placed.size[1]

    def px(self, x: float, y: float) -> Point:
        """Return which published pixel shows a place of the board."""
        px, py = self.placed.placement.px(x, y)
        return px * self.scale, py * self.scale


@dataclass(frozen=True)
class Darkroom:
    """Where pictures are drawn anew: kept in the cache, and gathered in ``files`` by the path they are published at."""

    job_id: str
    cache: Cache
    files: dict[str, bytes]

    def drawn_anew(self, shot: Shot, *key: object, comes_from: Source, size: Size, bent: bool = False) -> Sized | None:
        """Publish a picture of ``size`` pixels whose pixels come from a photo; None where the photo cannot show it."""
        return next(iter(self.in_sizes(shot, *key, comes_from=comes_from, sizes=[size], bent=bent)), None)

    def in_sizes(
        self, shot: Shot, *key: object, comes_from: Source, sizes: Sequence[Size], bent: bool = False
    ) -> tuple[Sized, ...]:
        """Publish a picture whose pixels come from a photo in several sizes: drawn in the last, the largest, and reduced to the others.

        Nothing is published where the photo cannot show it.
        """

        @cache
        def largest() -> Pixels | None:
            from benchrecord.bench.warp import grid_for, pieces  # noqa: PLC0415  # only where a picture must be made
            from benchrecord.figures.warp import warped  # noqa: PLC0415

            found = pieces(comes_from, sizes[-1], grid_for(sizes[-1], bent=bent))
            return warped(shot.pixels, found, sizes[-1], beyond=shot.picture.tone) if isinstance(found, tuple) else None

        def draw(size: Size) -> bytes:
            from benchrecord.figures.photo import resized  # noqa: PLC0415
            from benchrecord.figures.warp import webp  # noqa: PLC0415

            image = largest()
            return webp(resized(image, size)) if image else b""

        contents = [self.cache.made("drawn anew", shot.key, repr((key, size)), make=partial(draw, size)) for size in sizes]
        return tuple(self._published(content, size) for content, size in zip(contents, sizes, strict=True) if content)

    def _published(self, content: bytes, size: Size) -> Sized:
        src = addresses.asset(self.job_id, f"{hashlib.sha256(content).hexdigest()[:16]}-{size[0]}.webp")
        self.files[src] = content
        return Sized(src, *size)


@dataclass(frozen=True)
class Table:
    """All that a board's pictures are drawn from."""

    job: Job
    board: Board
    layers: Layers
    frame: MapFrame
    shots: tuple[Shot, ...]
    room: Darkroom

    def href(self, ref: str) -> str:
        """Return where a pin leads: to the part's entry."""
        return addresses.entry(self.job.id, part_key(self.board.id, ref))

    def drawing(self, *key: object, draw: Callable[[], BoardDrawing]) -> BoardDrawing:
        """Return a drawing of the board, from the cache where it was drawn before."""

        def packed() -> bytes:
            drawn = draw()
            return json.dumps(asdict(drawn)).encode()

        known = sorted((layer, sorted(refs)) for layer, refs in self.layers.items())
        kept = self.room.cache.made("board", repr((self.job.id, self.board, known, key)), make=packed)
        return BoardDrawing(**json.loads(kept))
