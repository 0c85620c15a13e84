"""One job: the instrument, the notes, boards, pictures, parts, trims and checks of its folder.

Every item knows the place it was written at, so that a later problem can name it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any

from benchrecord.model.quantity import Quantity
from benchrecord.model.table import Table
from benchrecord.problems import Place

NOWHERE = Place("")
NO_OWNER = "no owner"  # in ``Job.at``: where it is stated that nobody's data are to be withheld


class DecisionRule(StrEnum):
    """How a reading is held against its limit."""

    SIMPLE = "simple"
    GUARDED = "guarded"


class NoteStage(StrEnum):
    """Which part of the work a note tells."""

    ARRIVAL = "arrival"
    DIAGNOSIS = "diagnosis"
    REPAIR = "repair"
    ADJUSTMENT = "adjustment"
    TEST = "test"
    HANDOVER = "handover"


class PhotoStage(StrEnum):
    """Whether a picture shows the instrument as it came, at work or as it left."""

    BEFORE = "before"
    DURING = "during"
    AFTER = "after"


class BoardSide(StrEnum):
    """Which side of a board a picture shows: the component side, or the solder side, which is seen mirrored."""

    TOP = "top"
    BOTTOM = "bottom"


class TakenBy(StrEnum):
    """Whose a picture is."""

    TECHNICIAN = "technician"
    OWNER = "owner"


class DatedBy(StrEnum):
    """How the day of a picture without one in its row is known."""

    LOCAL_TIME = "local time"  # the camera knew its time zone: it is the day of the place
    CAMERA = "camera"  # by a clock of an unknown time zone


class Edition(StrEnum):
    """The three readers of one folder."""

    PORTFOLIO = "portfolio"
    OWNER = "owner"
    ARCHIVE = "archive"


@dataclass(frozen=True, slots=True)
class Instrument:
    """What stands on the bench."""

    maker: str = ""
    model: str = ""
    kind: str = ""
    year: int | None = None
    serial: str = ""


@dataclass(frozen=True, slots=True)
class Owner:
    """Whose it is. Never in the portfolio."""

    name: str = ""
    email: str = ""
    phone: str = ""
    address: str = ""


@dataclass(frozen=True, slots=True)
class Technician:
    """Who did the work, and answers for the record. On no page of the portfolio."""

    name: str = ""
    email: str = ""
    phone: str = ""
    address: str = ""


@dataclass(frozen=True, slots=True)
class HandOver:
    """What goes along in the owner's record: ``photo_location`` lets the owner's own photographs keep where they were taken."""

    photo_location: bool = False


@dataclass(frozen=True, slots=True)
class Dates:
    """The days that matter; ``next_service`` may be a month only (``2031-04``)."""

    received: date | None = None
    finished: date | None = None
    returned: date | None = None
    warranty_until: date | None = None
    next_service: str = ""


@dataclass(frozen=True, slots=True)
class Control:
    """A knob with a range, or a switch with named positions."""

    name: str
    range: tuple[float, float] | None = None
    positions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Module:
    """A part of the instrument that does one thing."""

    id: str
    title: str
    boards: tuple[str, ...] = ()
    inputs: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    controls: tuple[Control, ...] = ()
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class MeterRange:
    """One range of a meter: its limits of error are percent of reading plus counts of the resolution."""

    unit: str
    up_to: float
    reading_percent: float = 0.0
    counts: float = 0.0
    resolution: float = 0.0


@dataclass(frozen=True, slots=True)
class Meter:
    """What was measured with."""

    id: str
    title: str
    calibrated: date | None = None
    ranges: tuple[MeterRange, ...] = ()
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Costs:
    """Currency and hourly rate; ``parts`` is the sum of the parts' prices where these are not shown, or ``parts_reason`` why there is none."""

    currency: str = ""
    hourly_rate: float | None = None
    parts: float | None = None
    parts_reason: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """One page of the notebook; ``body`` is Markdown that starts at line ``body_line`` of its file.

    ``address`` is its name on the site, where that is not its id.
    """

    id: str
    file: str
    title: str
    body: str
    body_line: int = 1
    date: date | None = None
    hours: float | None = None
    stage: NoteStage | None = None
    board: str = ""
    module: str = ""
    edition: Edition | None = None
    address: str = ""
    place: Place = NOWHERE
    at: Mapping[str, Place] = field(default_factory=dict)  # where its facts stand


@dataclass(frozen=True, slots=True)
class BoardPart:
    """A part with its place on the board: mm from the lower left corner, or percent of the first photo (y down)."""

    ref: str
    x: float
    y: float
    kind: str = ""
    value: str = ""
    function: str = ""
    side: str = ""
    rotation: float | None = None  # degrees, anticlockwise as seen from above; None where nobody says
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class PhotoPoint:
    """One place found both on the board (mm, or percent of the first photo) and in a photo (pixels)."""

    board: tuple[float, float]
    px: tuple[float, float]
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class BoardPhoto:
    """A photo of a board and the points that line it up."""

    file: str
    stage: PhotoStage | None = None
    points: tuple[PhotoPoint, ...] = ()
    side: BoardSide | None = None
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Board:
    """A circuit board; ``frame`` is ``mm`` or ``percent``."""

    id: str
    title: str
    size_mm: tuple[float, float] | None = None
    frame: str = "mm"
    photos: tuple[BoardPhoto, ...] = ()
    parts: tuple[BoardPart, ...] = ()
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture of the folder. ``width`` and ``height`` are pixels as the picture is seen, turned upright.

    ``dated`` says how its date is known where no row gives it; ``content`` is a digest of its bytes (SHA-256); ``taken_by``
    says whose it is.
    """

    file: str
    width: int
    height: int
    caption: str = ""
    stage: PhotoStage | None = None
    date: date | None = None
    dated: DatedBy | None = None
    board: str = ""
    module: str = ""
    refs: tuple[str, ...] = ()
    edition: Edition | None = None
    content: str = ""
    taken_by: TakenBy = TakenBy.TECHNICIAN
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Mark:
    """Something pointed at in a photo; x, y, w, h in percent of it."""

    photo: str
    shape: str
    x: float
    y: float
    w: float | None
    h: float | None
    text: str
    ref: str = ""
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class PartWork:
    """One row of parts.csv: what was done to a part, and why."""

    board: str
    ref: str
    action: str
    was: str = ""
    now: str = ""
    reason: str = ""
    was_rating: str = ""
    now_rating: str = ""
    measured: str = ""
    qty: float = 1.0
    unit_cost: float | None = None
    supplier: str = ""
    order_code: str = ""
    obsolete: bool = False
    original_kept: bool = False
    status: str = "fitted"
    note: str = ""
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Fault:
    """What was wrong, why, and what was done about it; without remedy it is still open."""

    symptom: str
    cause: str = ""
    board: str = ""
    ref: str = ""
    remedy: str = ""
    hours: float | None = None
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class DateCode:
    """A date code as it is stamped on a part."""

    board: str
    ref: str
    code: str
    note: str = ""
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Document:
    """A schematic or service note; archive only unless its row says otherwise."""

    file: str
    title: str
    kind: str = ""
    edition: Edition | None = None
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Trim:
    """One trim: what it sets, what must be set first, where it stood and what it read."""

    board: str
    ref: str
    function: str = ""
    module: str = ""
    after: tuple[str, ...] = ()  # keys of trims: board:ref
    unit: str = ""
    target: float | None = None
    low: float | None = None
    high: float | None = None
    as_found: float | None = None
    as_left: float | None = None
    turns: float | None = None
    position_found: float | None = None
    position_left: float | None = None
    check: str = ""
    decimals: int | None = None
    place: Place = NOWHERE

    @property
    def key(self) -> str:
        """The exact reference of the trim."""
        return f"{self.board}:{self.ref}" if self.board else self.ref


@dataclass(frozen=True, slots=True)
class Take:
    """A recording that a check is worked out from; ``stage`` is as_found or as_left, ``at`` a control's position as written."""

    stage: str
    file: str
    at: str = ""
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Check:
    """One check: its kind, its table and the keys of its own (read, in ``keys``)."""

    id: str
    title: str
    kind: str
    module: str = ""
    board: str = ""
    meter: str = ""
    limit: Quantity | None = None
    note: str = ""
    edition: Edition | None = None
    table: Table | None = None
    keys: Mapping[str, Any] = field(default_factory=dict)
    takes: tuple[Take, ...] = ()
    place: Place = NOWHERE
    at: Mapping[str, Place] = field(default_factory=dict)  # where its keys stand

    @property
    def limit_text(self) -> str:
        """The limit as it was written; nothing where there is none."""
        return self.limit.text if self.limit else ""


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording of the folder; ``form`` is how it is stored, in words; ``lossy`` says that its coding leaves something out."""

    file: str
    rate: int = 0  # frames a second
    frames: int = 0
    channels: int = 0
    form: str = ""
    lossy: bool = False

    @property
    def seconds(self) -> float:
        """How long it plays."""
        return self.frames / self.rate if self.rate else 0.0


@dataclass(frozen=True, slots=True)
class Patch:
    """A patch of cords and settings; ``connections`` are (from, to, level)."""

    id: str
    title: str
    recording: str = ""
    connections: tuple[tuple[str, str, float | None], ...] = ()
    settings: Mapping[str, str] = field(default_factory=dict)
    place: Place = NOWHERE
    at: Mapping[str, Place] = field(default_factory=dict)


PartRow = PartWork | Fault | DateCode | Trim  # a row that may name a part of a board


@dataclass(frozen=True, slots=True)
class Job:
    """All of one folder."""

    id: str
    title: str
    instrument: Instrument = Instrument()
    owner: Owner = Owner()
    technician: Technician = Technician()
    hand_over: HandOver = HandOver()
    dates: Dates = Dates()
    summary: str = ""
    cover: str = ""
    publish: bool = False
    decision_rule: DecisionRule = DecisionRule.SIMPLE
    modules: tuple[Module, ...] = ()
    meters: tuple[Meter, ...] = ()
    costs: Costs = Costs()
    notes: tuple[Note, ...] = ()
    boards: tuple[Board, ...] = ()
    photos: tuple[Photo, ...] = ()
    marks: tuple[Mark, ...] = ()
    parts: tuple[PartWork, ...] = ()
    faults: tuple[Fault, ...] = ()
    date_codes: tuple[DateCode, ...] = ()
    documents: tuple[Document, ...] = ()
    trims: tuple[Trim, ...] = ()
    checks: tuple[Check, ...] = ()
    recordings: tuple[Recording, ...] = ()
    patches: tuple[Patch, ...] = ()
    at: Mapping[str, Place] = field(default_factory=dict)  # where the keys of job.yml stand

    @property
    def part_rows(self) -> tuple[PartRow, ...]:
        """Every row that names a part: of parts, faults, date codes and trims."""
        rows: tuple[PartRow, ...] = (*self.parts, *self.faults, *self.date_codes, *self.trims)
        return tuple(row for row in rows if row.ref)

    def only_board_of(self, module: str) -> str:
        """Return the board of a module that has just one; empty where it has none, or several."""
        boards = next((m.boards for m in self.modules if m.id == module), ())
        return boards[0] if len(boards) == 1 else ""
