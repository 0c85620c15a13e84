"""What only the whole job can tell: names that lead nowhere or to two places, limits and dates out of order, files nobody mentions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations
from math import hypot
from pathlib import PurePosixPath

from benchrecord.intake.boards import LEAST_POINTS
from benchrecord.intake.crosscheck_notes import ambiguous, note_problems
from benchrecord.model.file_names import folded
from benchrecord.model.job import Board, BoardPhoto, Check, Job, Mark, Note, PartRow, Photo, Trim
from benchrecord.model.notation import thousands_between
from benchrecord.model.quantity import factor
from benchrecord.model.references import Ambiguous, Index, index_of
from benchrecord.problems import Place, Problem, nearest

TOP_FILES = frozenset(
    [
        "job.yml",
        "photos.csv",
        "marks.csv",
        "parts.csv",
        "faults.csv",
        "date-codes.csv",
        "documents.csv",
        "trims.csv",
        "checks.yml",
        "patches.yml",
    ]
)
FOLDERS_LISTED = ("photos/", "documents/", "recordings/")
FOLDERS = ("notes", "boards", "photos", "measurements", "documents", "recordings")
IN_PICTURE = "a place in the picture, 0 to 100 % of it"
NOT_SAVED = ".not-saved"  # ends the name of what a preview was not allowed to write
SHOWN = 12  # of the names that are known


@dataclass(frozen=True, slots=True)
class Whole:
    """All that the rules look at: the job, all that it has a name for, and the files of its folder."""

    job: Job
    index: Index
    files: frozenset[str]


def cross_check(job: Job, files: Sequence[str]) -> Iterator[Problem]:
    """Yield every problem between the files of a job."""
    whole = Whole(job, index_of(job), frozenset(files))
    rules: tuple[Callable[[Whole], Iterator[Problem]], ...] = (
        _boards_named, _modules_named, _checks_named, _parts_named, _values_slipped, _photos_named, _board_photos, _off_photo, _limits, _trim_order, _note_dates,
        _missing_files, _lossy_recordings, _unused_files, _name_clashes,
    )  # fmt: skip
    for rule in rules:
        yield from rule(whole)
    yield from note_problems(job, whole.index)


def _unknown(what: str, place: Place, got: str, known: Iterable[str], *, own: str = "") -> Problem:
    """Word a name that leads nowhere; ``own`` is the one that names itself and is no choice."""
    words = sorted({*known} - {own})
    expected = (
        f"a {what}: {', '.join(words[:SHOWN])}{' …' if len(words) > SHOWN else ''}"
        if words
        else f"a {what}; the job has no other"
        if own
        else f"a {what}; the job has none"
    )
    guess = nearest(got, words)
    add = f"add boards/{got}.yml, in which a title is enough" if what == "board" else f"add the {what}, or take this out"
    return Problem("unknown-id", place, got, expected, f"write {guess}" if guess else add)


def _spot(item: PartRow | Photo | Note | Check, key: str) -> Place:
    """Return where a fact of an item stands: its cell in a table, its key elsewhere."""
    if isinstance(item, Note | Check):
        return item.at.get(key, item.place)
    return Place(item.place.file, item.place.line, key)


def _boards_named(whole: Whole) -> Iterator[Problem]:
    job, known = whole.job, whole.index.ids["board"]
    named: list[PartRow | Photo | Note | Check] = [
        *job.parts, *job.faults, *job.date_codes, *job.trims, *job.photos, *job.notes, *job.checks,
    ]  # fmt: skip
    told: set[tuple[str, str]] = set()
    for item in named:
        once = (item.place.file, item.board)
        if item.board and item.board not in known and (once not in told or nearest(item.board, known)):
            told.add(once)  # a board that has no file yet is one mistake, in however many rows it stands
            yield _unknown("board", _spot(item, "board"), item.board, known)
    for module in job.modules:
        yield from (_unknown("board", module.place, board, known) for board in module.boards if board not in known)


def _values_slipped(whole: Whole) -> Iterator[Problem]:
    """Ask about a part whose new or measured value is 1000ⁿ times what it was: most likely a prefix is another."""
    for part in whole.job.parts:
        for name in ("now", "measured"):
            written = getattr(part, name)
            if power := thousands_between(written, part.was):
                times = f"{factor(power)} times" if power > 0 else f"1/{factor(power)} of"
                expected = f"a value near was {part.was[:SHOWN]}: this is about {times} that"
                remedy = "write the unit of both; nothing to do where the value was changed"
                yield Problem("unit-slip", _spot(part, name), written[:SHOWN], expected, remedy)


def _modules_named(whole: Whole) -> Iterator[Problem]:
    job, known = whole.job, whole.index.ids["module"]
    named: list[Trim | Photo | Note | Check] = [*job.trims, *job.photos, *job.notes, *job.checks]
    yield from (_unknown("module", _spot(i, "module"), i.module, known) for i in named if i.module and i.module not in known)


def _checks_named(whole: Whole) -> Iterator[Problem]:
    job, index = whole.job, whole.index
    checks, meters = index.ids["check"], {m.id for m in job.meters}
    for trim in job.trims:
        if trim.check and trim.check not in checks:
            yield _unknown("check", _spot(trim, "check"), trim.check, checks)
    for check in job.checks:
        if check.meter and check.meter not in meters:
            yield _unknown("meter", _spot(check, "meter"), check.meter, meters)
        twin, trim_name = str(check.keys.get("tracks_with") or ""), str(check.keys.get("trim") or "")
        if twin and twin not in checks:
            yield _unknown("check", _spot(check, "tracks_with"), twin, checks, own=check.id)
        if trim_name:
            yield from _trim_named(trim_name, check, index)


def _trim_named(name: str, check: Check, index: Index) -> Iterator[Problem]:
    found, place = index.link(f"trim:{name}", check.board), _spot(check, "trim")
    if isinstance(found, Ambiguous):
        yield ambiguous(place, name, found)
    elif found is None:
        yield _unknown("trim", place, name, index.ids["trim"])


def _parts_named(whole: Whole) -> Iterator[Problem]:
    """Designators that lead to two boards or, with a board given, to none of its parts (a hint)."""
    job, index = whole.job, whole.index
    placed = {b.id: {p.ref for p in b.parts} for b in job.boards}
    hinted: set[tuple[str, str]] = set()
    for board, ref, place in _named(job):
        own, _, bare = ref.rpartition(":")
        board_id = own or board
        if own and own not in placed:
            yield _unknown("board", place, ref, placed)
        elif isinstance(found := index.part(ref, board), Ambiguous) and not board_id:
            yield ambiguous(place, ref, found)
        elif board_id in placed and placed[board_id] and bare not in placed[board_id] and (board_id, bare) not in hinted:
            hinted.add((board_id, bare))
            near = nearest_ref(bare, placed[board_id])
            remedy = (
                f"write {near}, or leave it: it is listed without a pin"
                if near
                else f"add it to boards/{board_id}.csv, or leave it: it is listed without a pin"
            )
            yield Problem("unplaced-part", place, ref, f"a part of boards/{board_id}.csv", remedy)


def _named(job: Job) -> Iterator[tuple[str, str, Place]]:
    for item in job.part_rows:
        yield item.board, item.ref, Place(item.place.file, item.place.line, "ref")
    for photo in job.photos:
        yield from ((photo.board, ref, Place(photo.place.file, photo.place.line, "refs")) for ref in photo.refs)
    board_of = {p.file: p.board for p in job.photos}
    yield from ((board_of.get(m.photo, ""), m.ref, Place(m.place.file, m.place.line, "ref")) for m in job.marks if m.ref)
    for check in job.checks:
        for row in check.table.rows if check.table else ():
            if row.text("ref") and "ref" in row.cells and row.cells["ref"].value is not None:
                yield check.board or job.only_board_of(check.module), row.text("ref"), row.at("ref")


def nearest_ref(ref: str, known: Iterable[str]) -> str | None:
    """Return the designator that a misspelt one was most likely meant to be: the same letters and digits, or nearly."""
    by_lower = {k.lower(): k for k in known}
    return by_lower.get(ref.lower()) or (by_lower.get(nearest(ref, by_lower) or "") if len(ref) > 3 else None)  # noqa: PLR2004  # R12 is near to any R


def _photos_named(whole: Whole) -> Iterator[Problem]:
    job = whole.job
    have = {f for f in whole.files if f.startswith("photos/")}
    named = [(m.photo, Place(m.place.file, m.place.line, "photo")) for m in job.marks]
    named += [(p.file, p.place) for b in job.boards for p in b.photos if p.file]
    named += [(job.cover, job.at.get("cover", Place("job.yml")))] if job.cover else []
    yield from (no_photo(file, place, have) for file, place in named if file not in have)


def no_photo(file: str, place: Place, have: Iterable[str]) -> Problem:
    """Word the problem of a photo that is not in the folder."""
    return Problem("file-missing", place, file, "a picture of the folder photos/", _file_remedy(file, have))


def _missing_files(whole: Whole) -> Iterator[Problem]:
    job = whole.job
    named = [(d.file, Place(d.place.file, d.place.line, "file")) for d in job.documents if d.place.file]
    named += [(p.recording, p.at.get("recording", p.place)) for p in job.patches if p.recording]
    named += [(t.file, t.place) for c in job.checks for t in c.takes]
    for file, place in named:
        if file not in whole.files:
            yield Problem(
                "file-missing",
                place,
                file,
                f"a file of the folder {PurePosixPath(file).parent}/",
                _file_remedy(file, whole.files),
            )


def _lossy_recordings(whole: Whole) -> Iterator[Problem]:
    """A coding for listening drops what the ear does not hear, and what a check may be looking for."""
    forms = {r.file: r.form for r in whole.job.recordings if r.lossy}
    for take in (t for c in whole.job.checks for t in c.takes if t.file in forms):
        expected = "a recording that keeps everything: WAV, FLAC or AIFF"
        yield Problem(
            "lossy-recording",
            take.place,
            f"{take.file} ({forms[take.file]})",
            expected,
            "record in WAV or FLAC where that is still possible",
        )


def _file_remedy(file: str, have: Iterable[str]) -> str:
    """Word what to do about a file that is not there; a name that is nearly the same is most likely meant."""
    folder = PurePosixPath(file).parent
    beside = [f for f in have if PurePosixPath(f).parent == folder]
    by_stem = {PurePosixPath(f).stem: f for f in beside}
    guess = nearest(PurePosixPath(file).stem, by_stem)
    return f"write {by_stem[guess]}" if guess else f"put the file into {folder}/, or take this out"


def _board_photos(whole: Whole) -> Iterator[Problem]:
    by_file = {p.file: p for p in whole.job.photos}
    for board in whole.job.boards:
        if board.frame == "percent" and board.parts and not board.photos:
            yield Problem(
                "missing-key",
                board.place,
                "nothing",
                "photos: the picture that the percent count in",
                "add photos: with the file of the first picture",
            )
        for photo in board.photos:
            if photo.file in by_file:
                yield from _points(photo, by_file[photo.file])
        yield from _off_board(board)


def _points(photo: BoardPhoto, picture: Photo) -> Iterator[Problem]:
    for point in photo.points:
        x, y = point.px
        if not (0 <= x <= picture.width and 0 <= y <= picture.height):
            size = f"pixels inside {picture.width} × {picture.height}"
            yield Problem(
                "board-points",
                point.place,
                f"px: [{x:g}, {y:g}]",
                size,
                "mend px; it counts from the upper left corner of the upright picture",
            )
    if len(photo.points) >= LEAST_POINTS:
        yield from _no_fit(photo)


def _no_fit(photo: BoardPhoto) -> Iterator[Problem]:
    """Points that stand twice, or on a line, fix no place on the board."""
    places, pixels = [p.board for p in photo.points], [p.px for p in photo.points]
    for name, ends in (("", places), ("px: ", pixels)):
        twice = next((n for n, end in enumerate(ends) if end in ends[:n]), None)
        if twice is not None:
            said, remedy = f"{name}[{ends[twice][0]:g}, {ends[twice][1]:g}]", "take the point out, or mend its place"
            yield Problem("board-points", photo.points[twice].place, said, "each point once", remedy)
            return
    if line := on_a_line(places) or on_a_line(pixels):
        said = f"points {', '.join(str(n + 1) for n in line[:-1])} and {line[-1] + 1} on one line"
        remedy = "add points away from the line, best near the corners of the board"
        yield Problem("board-points", photo.points[line[0]].place, said, "four points, no three of them on one line", remedy)


def on_a_line(points: Sequence[tuple[float, float]]) -> tuple[int, ...]:
    """Return the numbers (from 0) of the points of a line that all points, or all but one, lie on: no four fix a plane then."""
    lines = (tuple(n for n, c in enumerate(points) if not _apart(a, b, c)) for a, b in combinations(points[:3], 2))
    return next((line for line in lines if len(line) >= len(points) - 1), ())


def _apart(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Say whether the third point lies off the line through the first two, by more than a ten-thousandth of their distance."""
    across, along = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]), hypot(b[0] - a[0], b[1] - a[1])
    return abs(across) > 1e-4 * along * along


def _off_board(board: Board) -> Iterator[Problem]:
    size = board.size_mm if board.frame == "mm" else (100.0, 100.0)
    wanted = f"a place on the board, {size[0]:g} × {size[1]:g} mm" if size and board.frame == "mm" else IN_PICTURE
    for part in board.parts if size else ():
        if size and not (0 <= part.x <= size[0] and 0 <= part.y <= size[1]):
            said = f"{part.x:g}, {part.y:g} {'mm' if board.frame == 'mm' else '%'}"
            yield Problem("off-board", part.place, said, wanted, f"mend the place of {part.ref}")


def _off_photo(whole: Whole) -> Iterator[Problem]:
    for mark in whole.job.marks:
        yield from _no_box(mark)
        for name, start, size in (("x", mark.x, mark.w), ("y", mark.y, mark.h)):
            across = size if size and mark.shape == "box" else 0.0
            if not (start >= 0 and start + across <= 100):  # noqa: PLR2004  # percent
                said = f"{start:g}, and {across:g} more" if across else f"{start:g}"
                place = Place(mark.place.file, mark.place.line, name)
                yield Problem("off-board", place, said, IN_PICTURE, "mend the place of the mark")


def _no_box(mark: Mark) -> Iterator[Problem]:
    """A box has a width and a height, and both are more than nothing."""
    for name, size in (("w", mark.w), ("h", mark.h)) if mark.shape == "box" else ():
        place, remedy = Place(mark.place.file, mark.place.line, name), "write w and h, or make it a point"
        if size is None:
            yield Problem(
                "missing-value", place, "nothing", "the width and the height of a box, in percent of the picture", remedy
            )
        elif size <= 0:
            yield Problem("not-positive", place, f"{size:g}", "more than zero", remedy)


def _limits(whole: Whole) -> Iterator[Problem]:
    for trim in whole.job.trims:
        yield from _reversed(trim.low, trim.high, Place(trim.place.file, trim.place.line, "low"))
    for check in whole.job.checks:
        for row in check.table.rows if check.table else ():
            yield from _reversed(row.number("low"), row.number("high"), row.at("low"))


def _reversed(low: float | None, high: float | None, place: Place) -> Iterator[Problem]:
    if low is not None and high is not None and low > high:
        yield Problem("limits-reversed", place, f"low {low:g}, high {high:g}", "low below high", "exchange the two")


def _trim_order(whole: Whole) -> Iterator[Problem]:
    known = {t.key: t for t in whole.job.trims}
    for trim in whole.job.trims:
        yield from (
            _unknown("trim", Place(trim.place.file, trim.place.line, "after"), a, known, own=trim.key)
            for a in trim.after
            if a not in known
        )
    circle = find_circle({key: tuple(a for a in t.after if a in known) for key, t in known.items()})
    if circle:
        place = known[circle[0]].place
        said = " → ".join((*circle, circle[0]))
        yield Problem(
            "trim-circle",
            Place(place.file, place.line, "after"),
            said,
            "trims that can be set one after the other",
            f"take one of these out of the column after: {', '.join(circle)}",
        )


def find_circle(waits_for: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Return a circle of names that wait for each other, beginning with the first in order; empty where there is none."""
    done: set[str] = set()
    for start in waits_for:
        path: list[str] = []
        stack: list[Iterator[str]] = [iter((start,))]
        while stack:
            name = next(stack[-1], None)
            if name is None:
                stack.pop()
                done |= {path.pop()} if path else set()
            elif name in path:
                return tuple(path[path.index(name) :])
            elif name not in done:
                path.append(name)
                stack.append(iter(waits_for.get(name, ())))
    return ()


def _note_dates(whole: Whole) -> Iterator[Problem]:
    received: date | None = whole.job.dates.received
    for note in whole.job.notes:
        if received and note.date and note.date < received:
            yield Problem(
                "dates-reversed",
                _spot(note, "date"),
                f"date: {note.date.isoformat()}",
                f"not before received: {received.isoformat()}",
                "mend the note's date, or received in job.yml",
            )


def _unused_files(whole: Whole) -> Iterator[Problem]:
    job = whole.job
    used = {*TOP_FILES, *(c.table.file for c in job.checks if c.table)}
    used |= {f"boards/{b.id}{ending}" for b in job.boards for ending in (".yml", ".csv")}
    for file in sorted(whole.files):
        note = file.startswith("notes/") and file.endswith(".md") and file.count("/") == 1
        if file not in used and not note and not file.startswith(FOLDERS_LISTED):
            remedy = _refused(file) or _home_of(file)
            yield Problem("unused-file", Place(file), file, "a file that something in the job mentions", remedy)


def _name_clashes(whole: Whole) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for file in sorted(whole.files):
        other = first.setdefault(folded(file), file)
        if other != file:
            remedy = "rename one of the two: on Windows or macOS one would replace the other"
            yield Problem("name-clash", Place(file), f"{other} and {file}", "names that differ in more than capitals", remedy)


def _refused(file: str) -> str:
    """Say what to do about a file that a preview was not allowed to write; nothing where it is none."""
    path = PurePosixPath(file)
    if not path.suffix.startswith(NOT_SAVED):
        return ""
    return f"compare it with {path.with_suffix('')}, which was changed meanwhile, and take it out"


def _home_of(file: str) -> str:
    """Say what an unused file could be named to be used, by the place where it lies."""
    path = PurePosixPath(file)
    folder, elsewhere = path.parts[0], "or keep it elsewhere"
    if len(path.parts) == 1:
        near = nearest(path.name, TOP_FILES)
        return f"name it {near}, if that is what it is" if near else "keep it elsewhere, or leave it: no page shows it"
    if folder.lower() in FOLDERS and folder not in FOLDERS:
        return f"name the folder {folder.lower()}"
    if folder == "notes":
        return f"name it notes/{path.stem}.md, if it is a note, {elsewhere}"
    if folder == "boards":
        ending = "csv" if path.suffix.lower() in (".csv", ".tsv", ".txt") else "yml"
        return f"name it boards/{path.stem}.{ending}, if it is a board, {elsewhere}"
    if path.suffix.lower() in (".csv", ".tsv", ".txt"):
        return f"name it in checks.yml, if it is a table of readings, {elsewhere}"
    return "keep it elsewhere, or leave it: no page shows it"
