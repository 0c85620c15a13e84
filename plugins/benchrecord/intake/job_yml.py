"""job.yml: what stands on the bench, whose it is, its modules and meters."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

from benchrecord.intake.paths import TEXT_BYTES, find, read_text
from benchrecord.intake.yaml_file import Facts, Node, day_of, only_once, parse_yaml
from benchrecord.model.file_names import DEVICE, transliterated
from benchrecord.model.job import (
    NO_OWNER,
    Control,
    Costs,
    Dates,
    DecisionRule,
    HandOver,
    Instrument,
    Job,
    Meter,
    MeterRange,
    Module,
    Owner,
    Technician,
)
from benchrecord.model.quantity import canonical_unit
from benchrecord.problems import Place, Problem

SHOWN = 3  # job folders
KEYS = (
    "title",
    "id",
    "instrument",
    "owner",
    "technician",
    "hand_over",
    "dates",
    "summary",
    "cover",
    "publish",
    "decision_rule",
    "modules",
    "meters",
    "costs",
)
NAME, PERSON = "job.yml", ("name", "email", "phone", "address")
NOBODY = frozenset({"none", "nobody"})
FIRST_YEAR, LAST_YEAR = 1850, 2100


def read_yaml(folder: Path, name: str, report: list[Problem]) -> Node | None:
    """Read a YAML file; None where it is not there or cannot be read."""
    if find(folder, name) is None:
        return None
    text, problem = read_text(folder, name, TEXT_BYTES)
    node, wrong = parse_yaml(text, name) if text is not None else (None, [])
    report += [*([problem] if problem else []), *wrong]
    return node


def read_list(folder: Path, name: str, what: str, report: list[Problem]) -> list[Node]:
    """Read a YAML file that is a list of things, each called ``what``; empty where it is not there or is no list."""
    node = read_yaml(folder, name, report)
    if node is not None and node.items is None and not node.empty:
        said, remedy = node.said()[:80], f"start each {what} on a line with -"
        report.append(Problem("wrong-type", node.place, said, f"a list: each {what} with its keys", remedy))
    return node.items or [] if node else []


def read_job_yml(folder: Path, report: list[Problem]) -> Job | None:
    """Read job.yml into a job without its other files; None where there is none to read."""
    if missing := _no_job(folder):
        report.append(missing)
        return None
    before = len(report)
    node = read_yaml(folder, NAME, report)
    if node is None and len(report) > before:
        return None
    facts = Facts.of(node, Place(NAME, 1), report, KEYS)
    modules, meters = tuple(_modules(facts, report)), tuple(_meters(facts, report))
    only_once([(m.id, m.place) for m in modules], report, "module")
    only_once([(m.id, m.place) for m in meters], report, "meter")
    return Job(
        id=_slug(facts.text("id")) or _slug(folder.resolve().name) or "job",
        title=facts.text("title", required=True),
        instrument=_instrument(facts, report),
        owner=Owner(**_person(facts, "owner", report)),
        technician=Technician(**_person(facts, "technician", report)),
        hand_over=HandOver(_group(facts, "hand_over", ("photo_location",), report).flag("photo_location")),
        dates=_dates(facts, report),
        summary=" ".join(facts.text("summary").split()),
        cover=facts.path("cover", "photos"),
        publish=facts.flag("publish"),
        decision_rule=facts.word("decision_rule", DecisionRule) or DecisionRule.SIMPLE,
        modules=modules,
        meters=meters,
        costs=_costs(facts, report),
        at=facts.places("cover", "title", "summary", "publish") | _nobody(facts),
    )


def _no_job(folder: Path) -> Problem | None:
    """Return the problem that there is no job to read: no folder, or no job.yml in it."""
    try:
        names = [p.name for p in folder.iterdir()]
    except OSError as error:
        said = f"{_name(folder)}: {error.strerror or error}"
        return Problem("folder-missing", Place(NAME), said, f"a job folder with a {NAME}", "mend the path of the folder")
    if NAME in names:
        return None
    alike = next((n for n in sorted(names) if n.lower() in (NAME, "job.yaml")), None)
    remedy = f"rename {alike} to {NAME}" if alike else _where_a_job_is(folder)
    return Problem("folder-missing", Place(NAME), f"no {NAME} in {_name(folder)}", f"a job folder with a {NAME}", remedy)


def _name(folder: Path) -> str:
    """Return what a folder is called; ``.`` and ``..`` too."""
    return folder.resolve().name or str(folder)


def _where_a_job_is(folder: Path) -> str:
    """Return what to do where a folder is no job: name the one inside of it or around it, or begin one."""
    inside = sorted(path.parent.name for path in folder.glob(f"*/{NAME}"))
    around = next((parent for parent in folder.resolve().parents if (parent / NAME).is_file()), None)
    if not inside and around is None:
        return f"name the folder of a job, or begin one: write {NAME} with at least a title"
    named = str(around) if not inside else " or ".join(str(folder / name) for name in inside[:SHOWN])
    return f"name the job folder: {named}{' …' if len(inside) > SHOWN else ''}"


def _slug(name: str) -> str:
    """Return a name in letters and digits of ASCII, with hyphens between its words."""
    return DEVICE.sub(r"\1-job", re.sub(r"[^a-z0-9]+", "-", transliterated(name).lower()).strip("-"))


def _group(facts: Facts, key: str, known: tuple[str, ...], report: list[Problem]) -> Facts:
    return Facts.of(facts.get(key), facts.at(key), report, known)


def _instrument(facts: Facts, report: list[Problem]) -> Instrument:
    own = _group(facts, "instrument", ("maker", "model", "kind", "year", "serial"), report)
    year = own.number("year", such_as="1977")
    if year is not None and not (FIRST_YEAR <= year <= LAST_YEAR and year == int(year)):
        report.append(
            Problem(
                "not-a-date",
                own.at("year"),
                own.text("year"),
                f"a year from {FIRST_YEAR} to {LAST_YEAR}",
                "write year: and four digits",
            )
        )
        year = None
    return Instrument(own.text("maker"), own.text("model"), own.text("kind"), int(year) if year else None, own.text("serial"))


def _nobody(facts: Facts) -> dict[str, Place]:
    """Return where it is stated that the instrument has no owner whose data are to be withheld."""
    node = facts.get("owner")
    return {NO_OWNER: node.place} if node and (node.text or "").strip().lower() in NOBODY else {}


def _person(facts: Facts, key: str, report: list[Problem]) -> dict[str, str]:
    if key == "owner" and _nobody(facts):
        return {}
    own = _group(facts, key, PERSON, report)
    return {name: own.text(name) for name in PERSON}


def _dates(facts: Facts, report: list[Problem]) -> Dates:
    own = _group(facts, "dates", ("received", "finished", "returned", "warranty_until", "next_service"), report)
    service = own.text("next_service")
    if service and not (re.fullmatch(r"(?!0000)\d{4}-(0[1-9]|1[0-2])", service) or day_of(service)[0]):
        report.append(
            Problem("not-a-date", own.at("next_service"), service, "a month or a day: 2031-04", "write next_service: 2031-04")
        )
        service = ""
    _in_order(own, report)
    return Dates(own.day("received"), own.day("finished"), own.day("returned"), own.day("warranty_until"), service)


def _in_order(own: Facts, report: list[Problem]) -> None:
    quiet = Facts(own.node, own.place, [], own.known)
    given = [(n, d) for n in ("received", "finished", "returned", "warranty_until") if (d := quiet.day(n))]
    for (before, first), (after, second) in pairwise(given):
        if second < first:
            said = f"{after}: {second.isoformat()}"
            report.append(
                Problem(
                    "dates-reversed",
                    own.at(after),
                    said,
                    f"not before {before}: {first.isoformat()}",
                    f"mend {before} or {after}",
                )
            )


def _costs(facts: Facts, report: list[Problem]) -> Costs:
    own = _group(facts, "costs", ("currency", "hourly_rate"), report)
    return Costs(own.text("currency"), own.number("hourly_rate"))


def _modules(facts: Facts, report: list[Problem]) -> list[Module]:
    found = []
    for node in facts.nodes("modules"):
        own = Facts.of(node, node.place, report, ("id", "title", "boards", "inputs", "outputs", "controls"))
        name = own.text("id", required=True)
        controls = tuple(_control(n, report) for n in own.nodes("controls"))
        found.append(
            Module(
                name,
                own.text("title") or name,
                own.texts("boards"),
                own.texts("inputs"),
                own.texts("outputs"),
                controls,
                own.at("id"),
            )
        )
    return [m for m in found if m.id]


def _control(node: Node, report: list[Problem]) -> Control:
    own = Facts.of(node, node.place, report, ("name", "range", "positions"))
    ends = own.pair("range")
    if ends and ends[0] >= ends[1]:
        report.append(
            Problem("limits-reversed", own.at("range"), f"{ends[0]:g}, {ends[1]:g}", "the lower end first", "exchange the two")
        )
    return Control(own.text("name", required=True), ends, own.texts("positions"))


def _meters(facts: Facts, report: list[Problem]) -> list[Meter]:
    found = []
    for node in facts.nodes("meters"):
        own = Facts.of(node, node.place, report, ("id", "title", "calibrated", "ranges"))
        name = own.text("id", required=True)
        ranges = tuple(r for n in own.nodes("ranges") if (r := _range(n, report)))
        found.append(Meter(name, own.text("title") or name, own.day("calibrated"), ranges, own.at("id")))
    return [m for m in found if m.id]


def _range(node: Node, report: list[Problem]) -> MeterRange | None:
    own = Facts.of(node, node.place, report, ("unit", "up_to", "reading_percent", "counts", "resolution"))
    written = own.text("unit", required=True)
    unit = canonical_unit(written)
    if written and unit is None:
        report.append(
            Problem(
                "wrong-unit",
                own.at("unit"),
                written,
                "a unit such as V, ohm or Hz",
                "write the unit as V, mV, ohm, kohm, Hz, A, s",
            )
        )
    up_to, resolution = own.number("up_to", unit=unit, positive=True), own.number("resolution", unit=unit)
    percent, counts = own.number("reading_percent", unit="%"), own.number("counts")
    if own.get("up_to") is None and "up_to" not in own.misspelt:
        report.append(Problem("missing-key", own.place, "nothing", "up_to: the end of the range", "add up_to:"))
    if unit is None or up_to is None:
        return None
    return MeterRange(unit, up_to, percent or 0.0, counts or 0.0, resolution or 0.0)
