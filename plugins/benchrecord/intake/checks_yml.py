"""checks.yml and the tables in measurements/, read by what each kind of check says of itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path, PurePosixPath

from benchrecord.intake.check_keys import read_keys
from benchrecord.intake.csv_file import meant, read_table
from benchrecord.intake.job_yml import read_list
from benchrecord.intake.paths import find
from benchrecord.intake.tables import typed_table
from benchrecord.intake.yaml_file import Facts, Node, only_once
from benchrecord.model.file_names import nfc
from benchrecord.model.job import Check, Edition, Take
from benchrecord.model.notation import LETTER_ALONE, prefix_meant
from benchrecord.model.quantity import Quantity, dimension
from benchrecord.model.table import Column, Holds, KindSchema, Table
from benchrecord.problems import Place, Problem, nearest, write_one_of

COMMON = (
    "id",
    "title",
    "kind",
    "module",
    "board",
    "meter",
    "limit",
    "note",
    "edition",
    "file",
    "as_found",
    "as_left",
    "settings",
)
SIDES = ("as_found", "as_left")
ALSO = (Column("control"), Column("tracks_with"))  # keys that any check may have
OF_RECORDINGS = (
    Column("channel", Holds.WORD, choice=("left", "right", *map(str, range(1, 9)))),
    Column("from_s", Holds.NUMBER, unit="s"),
    Column("to_s", Holds.NUMBER, unit="s", positive=True),
)


def read_checks(folder: Path, kinds: Mapping[str, KindSchema], report: list[Problem]) -> tuple[Check, ...]:
    """Read every check with its table."""
    checks = tuple(_check(folder, node, kinds, report) for node in read_list(folder, "checks.yml", "check", report))
    only_once([(c.id, c.place) for c in checks], report, "check")
    return checks


def _check(folder: Path, node: Node, kinds: Mapping[str, KindSchema], report: list[Problem]) -> Check:
    kind = next((v.text for k, (_, v) in (node.keys or {}).items() if k == "kind"), None) or ""
    schema = kinds.get(kind)
    facts = Facts.of(node, node.place, report, _known(schema, node))
    report += _elsewhere(node, schema) if schema else []
    name = facts.text("id", required=True) or f"line {node.place.line}"
    if schema is None:
        _unknown_kind(facts, kind, kinds, report)
        table = Table(facts.path("file", "measurements")) if facts.get("file") else None
        return Check(name, facts.text("title"), kind, table=table, place=facts.at("id"))
    keys = read_keys(facts, _keys_of(schema), report)
    further = [c.name for c in schema.keys if c.holds is Holds.RECORDING and c.name in keys]
    takes = (
        *(_takes(facts, report) if schema.recordings else ()),
        *(Take(name, keys[name], place=facts.at(name)) for name in further),
    )
    check = Check(
        id=name, title=facts.text("title", required=True) or name, kind=kind, module=facts.text("module"), board=facts.text("board"),
        meter=facts.text("meter"), limit=_limit(facts, schema, report), note=facts.text("note"), edition=facts.word("edition", Edition),
        keys=keys, takes=takes, place=facts.at("id"),
        at=facts.places("module", "board", "meter", "limit", *(c.name for c in _keys_of(schema))),
    )  # fmt: skip
    _need_readings(facts, schema, report)
    return replace(check, table=_table(folder, facts, schema, report))


def _keys_of(schema: KindSchema) -> tuple[Column, ...]:
    own = {c.name for c in schema.keys}
    return (*schema.keys, *(c for c in (*ALSO, *(OF_RECORDINGS if schema.recordings else ())) if c.name not in own))


def _known(schema: KindSchema | None, node: Node) -> list[str]:
    """Return the keys that a check of a kind may have."""
    own = [c.name for c in _keys_of(schema)] if schema else [*(c.name for c in ALSO), *(node.keys or {})]
    return list(dict.fromkeys([*COMMON, *own]))


def _elsewhere(node: Node, schema: KindSchema) -> list[Problem]:
    """Refuse recordings where a kind is read from a table, and a table where it hears recordings."""
    table, recordings = "a table, named by file", "recordings, named by as_found and as_left"
    takes = " or ".join([*([table] if schema.columns else []), *([recordings] if schema.recordings else [])])
    none = [*(() if schema.recordings else (*SIDES, "settings")), *(() if schema.columns else ("file",))]
    return [
        Problem(
            "unknown-key",
            at,
            name,
            f"{takes or 'neither a table nor recordings'} for a check of kind {schema.name}",
            "take it out",
        )
        for name, (at, _) in (node.keys or {}).items()
        if name in none
    ]


def _need_readings(facts: Facts, schema: KindSchema, report: list[Problem]) -> None:
    """Ask for a table or recordings where a check has neither."""
    names = ("file", *SIDES, "settings")
    if any(facts.get(n) is not None or n in facts.misspelt for n in names) or not (schema.columns or schema.recordings):
        return
    table, recording = "file: the table of readings", "as_left: a recording"
    expected = " or ".join([*([table] if schema.columns else []), *([recording] if schema.recordings else [])])
    remedy = (
        "add file: and the name of a table in measurements/" if schema.columns else "add as_left: and the name of a recording"
    )
    report.append(Problem("missing-key", facts.place, "nothing", expected, remedy))


def _unknown_kind(facts: Facts, kind: str, kinds: Mapping[str, KindSchema], report: list[Problem]) -> None:
    if not kind:
        facts.text("kind", required=True)
    else:
        report.append(
            Problem("unknown-kind", facts.at("kind"), kind, f"one of: {', '.join(sorted(kinds))}", write_one_of(kind, kinds))
        )


def _limit(facts: Facts, schema: KindSchema, report: list[Problem]) -> Quantity | None:
    limit = facts.quantity("limit")
    units = (schema.limit_unit,) if isinstance(schema.limit_unit, str) else schema.limit_unit
    if limit is None or not units or not limit.unit or dimension(limit.unit) in {dimension(unit) for unit in units}:
        return limit
    wanted = " or ".join(units)
    meant = next(filter(None, (prefix_meant(limit.text, unit) for unit in units)), "")
    remedy = f"write limit: {meant or f'and a number in {wanted}'}"
    report.append(
        Problem("wrong-unit", facts.at("limit"), limit.text, f"a limit in {wanted}{LETTER_ALONE * bool(meant)}", remedy)
    )
    return None


def _takes(facts: Facts, report: list[Problem]) -> tuple[Take, ...]:
    """Return the recordings of a check, those of its control's positions too."""
    settings = [Facts.of(node, node.place, report, ("at", *SIDES)) for node in facts.nodes("settings")]
    for own in settings:
        own.text("at", required=True)
    only_once([(own.text("at"), own.at("at")) for own in settings if own.get("at")], report, "setting of a check")
    named = [("", facts), *((own.text("at"), own) for own in settings)]
    takes = [Take(side, own.path(side, "recordings"), at, own.at(side)) for at, own in named for side in SIDES if own.get(side)]
    return tuple(take for take in takes if take.file)


def _table(folder: Path, facts: Facts, schema: KindSchema, report: list[Problem]) -> Table | None:
    file, name = facts.text("file"), facts.path("file", "measurements")
    if not file or not name or not schema.columns:
        return None
    if find(folder, name) is None:
        guess = _nearest_file(folder, name)
        remedy = f"write {guess}" if guess else "put the table into measurements/"
        report.append(Problem("file-missing", facts.at("file"), file, f"a table {name}", remedy))
        return Table(f"measurements/{guess}" if guess else name)
    raw = read_table(folder, name, report)
    if raw is None:
        return Table(name)
    if not raw.header:
        report.append(
            Problem(
                "missing-column", Place(name), "an empty table", "a header and rows", "write the column names in the first row"
            )
        )
        return Table(name)
    _need_one_of(schema, raw.header, Place(name, raw.header_line), report)
    return typed_table(raw, schema.columns, report)


def _nearest_file(folder: Path, name: str) -> str | None:
    """Return the table of the folder that a misspelt one was most likely meant to be."""
    tables = {
        nfc(p.stem): nfc(p.name)
        for p in sorted((folder / "measurements").glob("*"))
        if p.suffix.lower() in (".csv", ".tsv", ".txt")
    }
    guess = nearest(PurePosixPath(name).stem, tables)
    return tables[guess] if guess else None


def _need_one_of(schema: KindSchema, header: tuple[str, ...], place: Place, report: list[Problem]) -> None:
    for group in schema.one_of:
        if not set(group) & {*header, *meant(header, [c.name for c in schema.columns])}:
            report.append(
                Problem(
                    "missing-column",
                    place,
                    ", ".join(header)[:80],
                    f"a column {' or '.join(group)}",
                    f"add the column {group[0]}",
                )
            )
