"""All that the pages of one job are written from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from benchrecord.model.findings import Findings, TrimFinding
from benchrecord.model.job import Board, DateCode, Edition, Fault, Job, Note, PartWork, Photo, PhotoStage
from benchrecord.model.references import Index, index_of, part_key, parts_in_note


@dataclass(frozen=True, slots=True)
class Sized:
    """One published size of a photograph: its source path on the site and its width in pixels."""

    src: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class PhotoPicture:
    """A photograph as it is published; ``tone`` is its mean colour, shown until it has loaded."""

    sizes: tuple[Sized, ...]
    fallback: Sized
    tone: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing that stands inside a page, with its caption and what it shows in words."""

    svg: str
    caption: str = ""
    alt: str = ""


@dataclass(frozen=True, slots=True)
class BoardDrawing:
    """A board's map, or the pins over one of its photos: ``shape`` is width over height.

    ``least_px`` is the width on a page that it needs to be read, ``large_px`` the one at which a thumb can use it.
    """

    svg: str
    alt: str = ""
    shape: float = 1.0
    least_px: int = 0
    large_px: int = 0


@dataclass(frozen=True, slots=True)
class Fit:
    """How well a board's photo was lined up, from how many points.

    The residual in the board's unit (None: nothing left over to tell), the point that lies farthest off (number from 1, its place,
    how far), the lens's radial term where it was taken out, and whether the photo shows the board from behind.
    """

    points: int
    residual: float | None
    unit: str
    worst: int
    worst_at: tuple[float, float]
    worst_off: float
    k1: float | None = None
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """A photo of a board, turned and stretched to lie under its map; ``words`` name the photo."""

    words: str
    picture: Sized


@dataclass(frozen=True, slots=True)
class PartView:
    """What a photo shows about a part, in the same scale and direction as the part's other views."""

    file: str
    stage: PhotoStage | None
    picture: Sized
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class LinedUp:
    """A photo as found, and one as left that was drawn anew to lie over it."""

    before: str
    after: str
    picture: PhotoPicture


@dataclass(frozen=True, slots=True)
class KindOfPart:
    """What is known of some of a board's parts: its name in the look, its words, how many, and how it is told apart."""

    name: str
    words: str
    count: int
    sample: str


@dataclass(frozen=True, slots=True)
class BoardPictures:
    """What was drawn of a board: its map, kinds of parts, photos under the map, pairs lined up.

    ``pins``, ``fits`` and the designators of the parts ``within`` a photo are keyed by its file.
    """

    map: BoardDrawing | None = None
    kinds: tuple[KindOfPart, ...] = ()
    seen: tuple[Seen, ...] = ()
    pairs: tuple[LinedUp, ...] = ()
    pins: Mapping[str, BoardDrawing] = field(default_factory=dict)
    within: Mapping[str, frozenset[str]] = field(default_factory=dict)
    fits: Mapping[str, Fit] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Pictures:
    """Every picture of a job, made beforehand.

    ``boards`` are keyed by board, ``note_maps`` by note and board, ``views`` by part, ``photos`` and ``marks`` by file.
    """

    photos: Mapping[str, PhotoPicture] = field(default_factory=dict)
    charts: Mapping[str, Drawing] = field(default_factory=dict)
    boards: Mapping[str, BoardPictures] = field(default_factory=dict)
    note_maps: Mapping[tuple[str, str], BoardDrawing] = field(default_factory=dict)
    views: Mapping[str, tuple[PartView, ...]] = field(default_factory=dict)
    marks: Mapping[str, str] = field(default_factory=dict)


NOTHING_DRAWN = BoardPictures()


@dataclass(frozen=True)
class View:
    """A job as one reader may see it, with what was worked out and drawn of it."""

    job: Job
    findings: Findings
    pictures: Pictures
    edition: Edition

    @cached_property
    def index(self) -> Index:
        """All that the job has a name for."""
        return index_of(self.job)

    @cached_property
    def notes_of(self) -> Mapping[str, tuple[Note, ...]]:
        """The notes that speak of each part."""
        found: dict[str, tuple[Note, ...]] = {}
        for note in self.job.notes:
            for key in sorted(parts_in_note(note.body, self.index, note.board)):
                found[key] = (*found.get(key, ()), note)
        return found

    @cached_property
    def photos_of(self) -> Mapping[str, tuple[Photo, ...]]:
        """The photographs that show each part: by their row, by a mark, or by the placement of a board's photo."""
        found: dict[str, tuple[Photo, ...]] = {}
        for photo in self.job.photos:
            for key in sorted(self.parts_in_photo(photo)):
                found[key] = (*found.get(key, ()), photo)
        return found

    def parts_in_photo(self, photo: Photo) -> frozenset[str]:
        """Return the keys of the parts that a photograph shows."""
        named = [self.key(photo.board, ref) for ref in photo.refs]
        marked = [self.key(photo.board, m.ref) for m in self.job.marks if m.photo == photo.file and m.ref]
        placed = [part_key(b.id, ref) for b in self.job.boards for ref in self.board(b.id).within.get(photo.file, ())]
        return frozenset([*named, *marked, *placed])

    def boards_with(self, photo: Photo) -> list[Board]:
        """Return the boards that a photo is lined up on."""
        return [board for board in self.job.boards if photo.file in self.board(board.id).pins]

    def board(self, name: str) -> BoardPictures:
        """Return what was drawn of a board."""
        return self.pictures.boards.get(name, NOTHING_DRAWN)

    def key(self, board: str, ref: str) -> str:
        """Return the exact reference of a part that is named on a board, or alone."""
        target = self.index.part(ref, board)
        return target.id if hasattr(target, "id") else part_key(board, ref)  # type: ignore[union-attr]

    @cached_property
    def work_on(self) -> Mapping[str, tuple[PartWork, ...]]:
        """What was done to each part."""
        return _grouped([(self.key(p.board, p.ref), p) for p in self.job.parts])

    @cached_property
    def codes_of(self) -> Mapping[str, tuple[DateCode, ...]]:
        """The date codes found on each part."""
        return _grouped([(self.key(c.board, c.ref), c) for c in self.job.date_codes])

    @cached_property
    def faults_of(self) -> Mapping[str, tuple[Fault, ...]]:
        """The faults that each part had a share in."""
        return _grouped([(self.key(f.board, f.ref), f) for f in self.job.faults if f.ref])

    @cached_property
    def trims_of(self) -> Mapping[str, TrimFinding]:
        """The trim that each part is."""
        return {self.key(t.trim.board, t.trim.ref): t for t in self.findings.trims}

    @cached_property
    def checks_of(self) -> Mapping[str, tuple[str, ...]]:
        """The ids of the checks that measured each part."""
        pairs = [
            (self.key(finding.check.board, ref), finding.check.id)
            for finding in self.findings.checks
            for ref in dict.fromkeys(r for r in finding.table.refs if r)
        ]
        return _grouped(pairs)

    @cached_property
    def unplaced(self) -> tuple[str, ...]:
        """The parts that rows or notes name and no board's table places, by key."""
        placed = {part_key(b.id, p.ref) for b in self.job.boards for p in b.parts}
        named = {part_key(board, ref) for ref, boards in self.index.boards_of.items() for board in boards}
        return tuple(sorted(named - placed))


def _grouped(pairs: Sequence[tuple[str, object]]) -> dict[str, tuple]:  # type: ignore[type-arg]  # a tuple of whatever the pairs hold
    found: dict[str, tuple] = {}  # type: ignore[type-arg]
    for key, item in pairs:
        found[key] = (*found.get(key, ()), item)
    return found
