"""What a designator or a reference in a text leads to.

A bare designator resolves in its own board first, then in the job if only one board has it; ``psu:R12`` is exact.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from benchrecord.model.file_names import nfc
from benchrecord.model.job import Job
from benchrecord.model.prose import links, running_words

# Class letters of IEEE 315 and IEC 60617 that benches use; only such an unknown word is taken for a forgotten designator.
USUAL_LETTERS = frozenset(
    ["C", "CR", "D", "F", "FB", "IC", "J", "L", "LED", "Q", "R", "RL", "RV", "SK", "SW", "T", "TP", "TR", "U", "VR", "X", "ZD"]
)
_DESIGNATOR = r"[A-Z]{1,4}\d{1,4}[A-Za-z]?"
_MENTION = re.compile(rf"(?<![\w:/.#-])(?:(?P<board>[A-Za-z][\w-]*):)?(?P<ref>{_DESIGNATOR})(?![\w:]*\w)")
_NEXT = re.compile(rf"(?P<sep>\s?[/–—-]\s?|\s?\.\.\.?\s?)(?P<ref>{_DESIGNATOR})(?![\w:]*\w)")
LINKED = ("board", "module", "check", "trim", "photo", "note", "patch", "recording", "part")


@dataclass(frozen=True, slots=True)
class Mention:
    """A designator in a text, from ``start`` to ``end``; ``between`` are those that a range passes over."""

    start: int
    end: int
    board: str
    ref: str
    between: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Target:
    """What a reference leads to: a kind of thing and its id (``board:ref`` for a part)."""

    kind: str
    id: str


@dataclass(frozen=True, slots=True)
class Ambiguous:
    """A designator that several boards have."""

    boards: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Index:
    """All that a job has a name for."""

    boards_of: Mapping[str, frozenset[str]]
    ids: Mapping[str, frozenset[str]]

    def part(self, text: str, own_board: str = "") -> Target | Ambiguous | None:
        """Resolve ``R12`` or ``psu:R12``."""
        board, _, ref = text.rpartition(":")
        boards = self.boards_of.get(ref, frozenset())
        if board or own_board in boards:
            board = board or own_board
            return Target("part", part_key(board, ref)) if board in boards else None
        if len(boards) > 1:
            return Ambiguous(tuple(sorted(boards)))
        return Target("part", part_key(next(iter(boards)), ref)) if boards else None

    def link(self, text: str, own_board: str = "") -> Target | Ambiguous | None:
        """Resolve the target of ``[words](check:rails)`` and its sisters; None where it leads nowhere."""
        kind, _, rest = nfc(text).partition(":")
        if kind in self.ids["board"] and kind not in LINKED:
            return self.part(text)
        if kind in ("part", "trim"):
            found = self.part(rest, own_board)
            if isinstance(found, Target) and kind == "trim":
                return Target("trim", found.id) if found.id in self.ids["trim"] else None
            return found
        rest = rest.removeprefix("photos/").removeprefix("recordings/") if kind in ("photo", "recording") else rest
        return Target(kind, rest) if rest in self.ids.get(kind, frozenset()) else None


def part_key(board: str, ref: str) -> str:
    """Return the exact reference of a part."""
    return f"{board}:{ref}" if board else ref


def is_reference(target: str, boards: Iterable[str] = ()) -> bool:
    """Say whether the target of a link is a reference of ours (and not an address)."""
    scheme = target.partition(":")[0] if ":" in target else ""
    return scheme in LINKED or scheme in boards


def mentions(text: str) -> Iterator[Mention]:
    """Yield each designator in plain words. In ``R1–R4`` and ``psu:R1/R2`` each end is one."""
    end = 0
    for match in _MENTION.finditer(text):
        if match.start() < end:
            continue
        found = [Mention(match.start(), match.end(), match["board"] or "", match["ref"])]
        found += _following(text, match.end(), match["board"] or "", match["ref"])
        end = found[-1].end
        yield from found


def looks_forgotten(ref: str) -> bool:
    """Say whether an unknown word is most likely a designator that no table has."""
    return ref.rstrip("0123456789abcdefghijklmnopqrstuvwxyz") in USUAL_LETTERS


def _following(text: str, end: int, board: str, ref: str) -> Iterator[Mention]:
    while match := _NEXT.match(text, end):
        between = () if "/" in match["sep"] else _between(ref, match["ref"])
        ref, end = match["ref"], match.end()
        yield Mention(match.start("ref"), end, board, ref, between)


def _between(first: str, last: str) -> tuple[str, ...]:
    head, tail = re.match(r"([A-Z]+)(\d+)$", first), re.match(r"([A-Z]+)(\d+)$", last)
    if not head or not tail or head[1] != tail[1] or int(tail[2]) - int(head[2]) > 99:  # noqa: PLR2004  # not a range
        return ()
    return tuple(f"{head[1]}{n}" for n in range(int(head[2]) + 1, int(tail[2])))


def index_of(job: Job) -> Index:
    """Return the index of a job."""
    boards_of: dict[str, set[str]] = {}
    for board, ref in _named_parts(job):
        boards_of.setdefault(ref, set()).add(board)
    return Index(
        {ref: frozenset(boards - {""} or boards) for ref, boards in boards_of.items()},
        {
            "board": frozenset(b.id for b in job.boards),
            "module": frozenset(m.id for m in job.modules),
            "check": frozenset(c.id for c in job.checks),
            "trim": frozenset(t.key for t in job.trims),
            "photo": frozenset(p.file.removeprefix("photos/") for p in job.photos),
            "note": frozenset(n.id for n in job.notes),
            "patch": frozenset(p.id for p in job.patches),
            "recording": frozenset(r.file.removeprefix("recordings/") for r in job.recordings),
        },
    )


def _named_parts(job: Job) -> Iterator[tuple[str, str]]:
    for board in job.boards:
        yield from ((board.id, part.ref) for part in board.parts)
    yield from ((row.board, row.ref) for row in job.part_rows)
    board_of = {photo.file: photo.board for photo in job.photos}
    seen = [(photo.board, ref) for photo in job.photos for ref in photo.refs]
    seen += [(board_of.get(mark.photo, ""), mark.ref) for mark in job.marks if mark.ref]
    yield from ((named or board, ref) for board, word in seen for named, _, ref in [word.rpartition(":")])
    for check in job.checks:
        rows = check.table.rows if check.table else ()
        for row in rows:
            for word in (*row.words("ref"), *([row.text("ref")] * (not row.words("ref")))):
                own, _, ref = word.rpartition(":")
                if ref:
                    yield own or check.board, ref


def parts_in_note(body: str, index: Index, own_board: str) -> frozenset[str]:
    """Return the keys of all parts that a note speaks of, those inside a range too."""
    found: set[str] = set()
    for mention in mentions(running_words(body)):
        for ref in (mention.ref, *mention.between):
            target = index.part(part_key(mention.board, ref), own_board)
            found |= {target.id} if isinstance(target, Target) else set()
    for _, _, text in links(body):
        target = index.link(text, own_board) if is_reference(text, index.ids["board"]) else None
        found |= {target.id} if isinstance(target, Target) and target.kind in ("part", "trim") else set()
    return frozenset(found)
