"""The pages of one job: each a template and a small function from the view of the job."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import Any

from benchrecord.model.costs import AT_LEAST
from benchrecord.model.findings import DataTable, Value
from benchrecord.model.job import Board, Job, Module, Note, PartWork, Photo, Trim
from benchrecord.model.markdown_links import lone_images
from benchrecord.model.numbers import rounded
from benchrecord.model.prose import without_comments, without_tags
from benchrecord.model.quantity import shown_unit
from benchrecord.model.references import Target, is_reference, parts_in_note
from benchrecord.pages import addresses, cautions, words
from benchrecord.pages.render import Page, render
from benchrecord.pages.story import alarms, example, in_limits, matters, story
from benchrecord.pages.view import View
from benchrecord.pages.words import natural


def job_pages(view: View) -> list[Page]:
    """Write every page of a job."""
    makers: tuple[Callable[[View], Iterator[Page]], ...] = (
        overview, notes, boards, modules, checks, numbers, parts, trims, photos, handover, patches,
    )  # fmt: skip
    return [page for make in makers for page in make(view)]


def menu(view: View) -> list[tuple[str, str]]:
    """Return the pages that a job's own menu leads to, as (name, words)."""
    job = view.job
    return [
        *([("notes", "Notes")] if job.notes else []),
        *((f"boards/{addresses.slug(b.id)}", b.title) for b in job.boards),
        *([("checks", "Checks"), ("numbers", "The numbers")] if job.checks else []),
        *([("parts", "Parts")] if job.parts or _homeless(view) else []),
        *([("trims", "Trims")] if job.trims else []),
        *([("photos", "Photographs")] if job.photos else []),
        *([("patches", "Patches")] if job.patches or job.recordings else []),
        ("handover", "Safety and handover"),
    ]


def _page(view: View, name: str, template: str, **context: object) -> Page:
    helpers = {"menu": menu, "number": trim_number, "limits": trim_limits}
    return render(addresses.page(view.job.id, name), template, view=view, **helpers, **context)


def overview(view: View) -> Iterator[Page]:
    """The first page: what it is, what was wrong, how well it turned out."""
    job = view.job
    hours = sum(n.hours for n in job.notes if n.hours is not None)
    yield _page(
        view,
        "index",
        "overview.md.j2",
        cover=cover(view),
        story=story(view),
        facts=facts_of(job),
        pair=front_pair(view),
        in_limits=in_limits(view),
        alarms=alarms(view),
        matters=matters(view),
        timeline=sorted(job.notes, key=lambda n: (n.date is None, n.date or 0, n.id))
        if any(n.date for n in job.notes)
        else job.notes,
        hours=hours,
        hours_missing=sum(n.hours is None for n in job.notes),
        cautions_of=cautions.for_job(job),
    )


def notes(view: View) -> Iterator[Page]:
    """The list of notes, and a page for each."""
    if view.job.notes:
        yield _page(view, "notes", "notes.md.j2")
    listed: list[Note | None] = [None, *view.job.notes, None]
    for before, note, after in zip(listed, view.job.notes, listed[2:], strict=False):
        yield _note(view, note, before, after)


def _note(view: View, note: Note, before: Note | None, after: Note | None) -> Page:
    spoken = sorted(parts_in_note(note.body, view.index, note.board), key=natural)
    shown = [
        p
        for p in view.job.photos
        if p.board == note.board and note.board and set(spoken) & {view.key(p.board, r) for r in p.refs}
    ]
    return _page(
        view,
        addresses.note_page(note),
        "note.md.j2",
        note=note,
        body=with_pictures(view, note),
        board=next((b for b in view.job.boards if b.id == note.board), None),
        module=next((m for m in view.job.modules if m.id == note.module), None),
        parts=spoken,
        photos=shown[:4],
        before=before,
        after=after,
        cautions_of=cautions.for_part_of(view.job, note.board, note.module)
        if note.stage in ("diagnosis", "repair", "adjustment")
        else [],
    )


def with_pictures(view: View, note: Note, template: str = "asked.html.j2", **context: object) -> str:
    """Return a note's Markdown with the pictures it asks for: ``![words](board:psu)`` draws the map, and so on."""
    body = without_tags(without_comments(re.sub(r"\A\s*# [^\n]*\n", "", note.body)))
    draw, pieces, end = partial(render, "", template, **context), list[str](), 0
    for (start, stop), said, target in lone_images(body):
        pieces += (body[end:start], _asked(view, note, said, target, draw=draw) or body[start:stop])
        end = stop
    return "".join([*pieces, body[end:]])


def _asked(view: View, note: Note, said: str, target: str, *, draw: Callable[..., Page]) -> str:
    """Return the picture that an image of a note asks for; nothing where it is no image of the job."""
    found = view.index.link(target, note.board) if is_reference(target, view.index.ids["board"]) else None
    if not isinstance(found, Target):
        return ""
    pictures = view.pictures
    wanted: Mapping[str, tuple[Mapping[Any, object], object]] = {
        "photo": (pictures.photos, f"photos/{found.id}"), "check": (pictures.charts, found.id),
        "board": (pictures.note_maps, (note.id, found.id)), "part": (pictures.views, found.id),
    }  # fmt: skip
    made, key = wanted.get(found.kind, ({}, ""))
    if key not in made:
        return ""
    page = draw(view=view, kind=found.kind, key=key, words=said, href=addresses.of(view.job, found))
    return re.sub(r"\n\s*\n", "\n", page.markdown)


def boards(view: View) -> Iterator[Page]:
    """A page for each board: its map, its photographs, its parts one by one."""
    for board in view.job.boards:
        entries = [
            part_entry(view, f"{board.id}:{p.ref}", (p.kind, p.value, p.function))
            for p in sorted(board.parts, key=lambda p: natural(p.ref))
        ]
        entries += [part_entry(view, key, ("", "", "")) for key in view.unplaced if key.startswith(f"{board.id}:")]
        yield _page(
            view,
            f"boards/{addresses.slug(board.id)}",
            "board.md.j2",
            board=board,
            modules=[m for m in view.job.modules if board.id in m.boards],
            photos=_board_photos(view, board),
            unfitted={p.file for p in board.photos if p.points} - {*view.board(board.id).fits, *view.board(board.id).pins},
            checks=_checks_on(view, board),
            entries=entries,
            cautions_of=cautions.for_part_of(view.job, board=board.id),
        )


def part_entry(view: View, key: str, kind_value_function: tuple[str, str, str]) -> dict[str, object]:
    """Gather all that is known of a part."""
    kind, value, function = kind_value_function
    board, _, ref = key.rpartition(":")
    placed = any(b.id == board and any(p.ref == ref for p in b.parts) for b in view.job.boards)
    return {
        "key": key, "ref": ref, "kind": kind, "value": value, "function": function, "placed": placed,
        "work": view.work_on.get(key, ()), "trim": view.trims_of.get(key), "checks": view.checks_of.get(key, ()),
        "notes": view.notes_of.get(key, ()), "views": view.pictures.views.get(key, ()), "photos": _elsewhere(view, key), "faults": view.faults_of.get(key, ()), "codes": view.codes_of.get(key, ()),
    }  # fmt: skip


def _elsewhere(view: View, key: str) -> list[Photo]:
    """The photographs that show a part, as its row, a mark or the picture says, and that no view was cut out of."""
    cut = {v.file for v in view.pictures.views.get(key, ())}
    return [p for p in view.photos_of.get(key, ()) if p.file not in cut]


def _board_photos(view: View, board: Board) -> list[Photo]:
    named = [p.file for p in board.photos]
    by_file = {p.file: p for p in view.job.photos}
    return [by_file[f] for f in named if f in by_file]


def _checks_on(view: View, board: Board) -> list[str]:
    """The checks of a board: its own, and those that measured one of its parts."""
    own = [c.id for c in view.job.checks if c.board == board.id]
    measured = [i for key, ids in view.checks_of.items() if key.startswith(f"{board.id}:") for i in ids]
    return list(dict.fromkeys([*own, *measured]))


def modules(view: View) -> Iterator[Page]:
    """A page for each module: its checks with charts, its trims, parts, notes and photographs."""
    for module in view.job.modules:
        trims_here = [t for t in view.findings.trims if t.trim.module == module.id]
        yield _page(
            view,
            f"modules/{addresses.slug(module.id)}",
            "module.md.j2",
            module=module,
            boards=[b for b in view.job.boards if b.id in module.boards],
            checks=[f for f in view.findings.checks if f.check.module == module.id],
            trims=trims_here,
            parts=_module_parts(view, module),
            notes=[n for n in view.job.notes if n.module == module.id],
            photos=[p for p in view.job.photos if p.module == module.id][:6],
            cautions_of=cautions.for_part_of(view.job, module=module.id),
        )


def _module_parts(view: View, module: Module) -> list[str]:
    """The parts that were worked on and that the module's notes, checks or trims name."""
    spoken = {key for n in view.job.notes if n.module == module.id for key in parts_in_note(n.body, view.index, n.board)}
    measured = {
        key
        for key, ids in view.checks_of.items()
        if any(f.check.id in ids and f.check.module == module.id for f in view.findings.checks)
    }
    return sorted((spoken | measured) & set(view.work_on), key=natural)


def checks(view: View) -> Iterator[Page]:
    """All checks at a glance, and those of no module in full."""
    if view.job.checks:
        known = {m.id for m in view.job.modules}
        alone = [f for f in view.findings.checks if f.check.module not in known]
        yield _page(view, "checks", "checks.md.j2", in_limits=in_limits(view), alone=alone, alarms=alarms(view))


def numbers(view: View) -> Iterator[Page]:
    """How each number and its uncertainty came about, with this job's own figures."""
    if view.job.checks:
        told = [f for f in view.findings.checks if f.basis]
        uncertain = sum(f.has_uncertainty for f in told)
        context = {"told": told, "uncertain": uncertain, "example": example(view), "range_words": words.range_words}
        yield _page(view, "numbers", "numbers.md.j2", **context)


def parts(view: View) -> Iterator[Page]:
    """What was done to each part, board by board."""
    homeless = _homeless(view)
    if not view.job.parts and not homeless:
        return
    yield _page(
        view,
        "parts",
        "parts.md.j2",
        sums=view.findings.parts,
        groups=worked_parts(view),
        homeless=homeless,
        cost=cost_words(view),
        prices=any(p.unit_cost is not None for p in view.job.parts),
        suppliers=any(p.supplier or p.order_code for p in view.job.parts),
    )


def cost_words(view: View) -> str:
    """Write what the parts cost, or what at least and which prices are missing; empty where no price is given."""
    sums = view.findings.parts
    if sums.cost is not None:
        return f"{sums.cost:.2f} {view.job.costs.currency}".strip()
    return sums.cost_reason if sums.cost_reason.startswith(AT_LEAST) else ""


def worked_parts(view: View) -> list[tuple[str, list[tuple[str, PartWork]]]]:
    """What was done to parts, board by board, each with its exact reference."""
    titles = {b.id: b.title for b in view.job.boards}
    groups: dict[str, list[tuple[str, PartWork]]] = {}
    for row in view.job.parts:
        key = view.key(row.board, row.ref)
        board = key.rpartition(":")[0]
        groups.setdefault(titles.get(board, board or "Elsewhere in the instrument"), []).append((key, row))
    return list(groups.items())


def _homeless(view: View) -> list[dict[str, object]]:
    return [part_entry(view, key, ("", "", "")) for key in view.unplaced if ":" not in key and key not in view.work_on]


def trims(view: View) -> Iterator[Page]:
    """All trims in the order in which they are set."""
    if view.job.trims:
        yield _page(view, "trims", "trims.md.j2")


def photos(view: View) -> Iterator[Page]:
    """All photographs, as found beside as left."""
    if not view.job.photos:
        return
    paired = [(title, pairs(group)) for title, group in photo_sections(view)]
    yield _page(view, "photos", "photos.md.j2", sections=paired)


def photo_sections(view: View) -> list[tuple[str, list[Photo]]]:
    """The photographs by what they show: a board, a module, or the instrument."""
    titles = {**{m.id: m.title for m in view.job.modules}, **{b.id: b.title for b in view.job.boards}}
    sections: dict[str, list[Photo]] = {}
    for photo in view.job.photos:
        place = photo.board or photo.module
        sections.setdefault(titles.get(place, "The instrument"), []).append(photo)
    return list(sections.items())


def pairs(group: list[Photo]) -> list[list[Photo]]:
    """Put each picture as found beside the one as left whose name differs only in that word; others stand alone."""
    by_file = {p.file: p for p in group}
    taken: set[str] = set()
    rows: list[list[Photo]] = []
    for photo in group:
        if photo.file in taken:
            continue
        names = (photo.file.replace("after", "before"), photo.file.replace("before", "after"))
        both = [by_file[n] for n in dict.fromkeys(names) if n in by_file and n not in taken]
        row = both if len(both) == len(names) else [photo]
        taken |= {p.file for p in row}
        rows.append(row)
    return rows


def handover(view: View) -> Iterator[Page]:
    """Cautions, dates, what is still open, whose it is."""
    yield _page(
        view,
        "handover",
        "handover.md.j2",
        cautions_of=cautions.for_job(view.job),
        dates=dates_of(view.job),
        matters=matters(view),
        owner=_owner(view.job),
        notes=[n for n in view.job.notes if n.stage == "handover"],
    )


def patches(view: View) -> Iterator[Page]:
    """Patches and recordings, listed, with the checks that hear them."""
    if view.job.patches or view.job.recordings:
        takes = [(t.file, c.id) for c in view.job.checks for t in c.takes]
        yield _page(
            view, "patches", "patches.md.j2", heard_by=lambda file: list(dict.fromkeys(c for f, c in takes if f == file))
        )


def cover(view: View) -> Photo | None:
    """Return the cover photograph, where there is one that is shown."""
    return next((p for p in view.job.photos if p.file == view.job.cover and p.file in view.pictures.photos), None)


def front_pair(view: View) -> list[Photo]:
    """The first pair of the instrument as found and as left; else of a board."""
    shown = [p for p in view.job.photos if p.file in view.pictures.photos]
    whole = [p for p in shown if not p.board]
    return next((row for group in (whole, shown) for row in pairs(group) if len(row) == 2), [])  # noqa: PLR2004  # a pair


def facts_of(job: Job) -> list[tuple[str, str]]:
    """Return the facts that stand at the top of a job, in words."""
    dates = job.dates
    facts = (
        ("Received", words.day(dates.received)),
        ("Finished", words.day(dates.finished)),
        ("Serial number", job.instrument.serial),
        ("Next service", words.day(dates.next_service)),
    )
    return [(name, fact) for name, fact in facts if fact]


def dates_of(job: Job) -> list[tuple[str, str]]:
    """Return the days of a job that its owner wants to know, in words."""
    d = job.dates
    pairs_of = (
        ("Received", d.received),
        ("Finished", d.finished),
        ("Returned", d.returned),
        ("Warranty until", d.warranty_until),
        ("Next service due", d.next_service),
    )
    return [(name, words.day(when)) for name, when in pairs_of if when]


def _owner(job: Job) -> list[tuple[str, str]]:
    o = job.owner
    return [
        (name, fact)
        for name, fact in (("Name", o.name), ("E-mail", o.email), ("Telephone", o.phone), ("Address", o.address))
        if fact
    ]


def trim_number(trim: Trim, name: str) -> str:
    """Write a reading of a trim with its unit, at the decimals it was written with."""
    value = getattr(trim, name)
    if value is None:
        return "—"
    text = rounded(value, trim.decimals) if trim.decimals is not None else f"{value:g}"
    return f"{text} {shown_unit(trim.unit)}".strip()


def trim_limits(trim: Trim) -> str:
    """Write the limits of a trim."""
    low, high = trim_number(trim, "low"), trim_number(trim, "high")
    if trim.low is None or trim.high is None:
        return f"at most {high}" if trim.low is None else f"at least {low}"
    return f"{low} to {high}"


def data_csv(table: DataTable) -> str:
    """Return a table of readings at full precision; what another separator than ours could take apart stands in quotes."""
    return "".join(",".join(_in_csv(cell) for cell in row) + "\n" for row in (table.columns, *table.rows))


def _in_csv(cell: Value | str) -> str:
    if isinstance(cell, Value) and isinstance(cell.value, float):
        return repr(cell.value)  # most cells of a curve: a number needs no quotes
    text = words.csv_cell(cell)
    return '"' + text.replace('"', '""') + '"' if re.search(r"[\",;\t\r\n]", text) else text
