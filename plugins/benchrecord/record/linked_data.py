"""The object and what happened to it as linked data, in the words that museums and archives share.

Source: CIDOC CRM 7.1.3 (ISO 21127), written as JSON-LD 1.1. All that it needs stands in the file: nothing has to be fetched to read it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from benchrecord.model.findings import CheckFinding, Side, Value, Verdict
from benchrecord.model.job import PartWork
from benchrecord.model.quantity import shown_unit
from benchrecord.pages import words
from benchrecord.pages.view import View

CONTEXT = {
    "crm": "http://www.cidoc-crm.org/cidoc-crm/",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
    "rdfs": "http://www.w3.org/2000/01/rdf-schema#",
    "id": "@id",
    "type": "@type",
    "label": "rdfs:label",
    "note": "crm:P3_has_note",
    "value": {"@id": "crm:P90_has_value", "@type": "xsd:double"},
    "from": {"@id": "crm:P82a_begin_of_the_begin", "@type": "xsd:date"},
    "until": {"@id": "crm:P82b_end_of_the_end", "@type": "xsd:date"},
    "year": {"@id": "crm:P82_at_some_time_within", "@type": "xsd:gYear"},
}
OBJECT, OWNER, TECHNICIAN = "#instrument", "#owner", "#technician"
Node = dict[str, Any]


def linked_data(view: View) -> bytes:
    """Return the instrument, whose it is, and each act upon it as one JSON-LD document."""
    graph = [_object(view), *_actors(view), *_visit(view), *_parts(view), *_checks(view)]
    return (json.dumps({"@context": CONTEXT, "@graph": graph}, indent=1, ensure_ascii=False) + "\n").encode()


def _ref(ident: str) -> Node:
    return {"id": ident}


def _kind(said: str) -> Node:
    return {"type": "crm:E55_Type", "label": said}


def _span(first: date | None, last: date | None = None) -> Node:
    days = {"from": first and first.isoformat(), "until": (last or first) and (last or first).isoformat()}  # type: ignore[union-attr]
    told = {k: v for k, v in days.items() if v}
    return {"crm:P4_has_time-span": {"type": "crm:E52_Time-Span", **told}} if told else {}


def _object(view: View) -> Node:
    instrument = view.job.instrument
    made: Node = {"id": OBJECT, "type": "crm:E22_Human-Made_Object", "label": words.instrument_name(view.job)}
    if instrument.kind:
        made["crm:P2_has_type"] = _kind(instrument.kind)
    if instrument.serial:
        serial = {"type": "crm:E42_Identifier", "label": instrument.serial, "crm:P2_has_type": _kind("serial number")}
        made["crm:P1_is_identified_by"] = serial
    if instrument.maker or instrument.year:
        made["crm:P108i_was_produced_by"] = _production(instrument.maker, instrument.year)
    if view.job.owner.name:
        made["crm:P52_has_current_owner"] = _ref(OWNER)
    return made


def _production(maker: str, year: int | None) -> Node:
    made: Node = {"type": "crm:E12_Production"}
    if maker:
        made["crm:P14_carried_out_by"] = {"type": "crm:E39_Actor", "label": maker}
    if year:
        made["crm:P4_has_time-span"] = {"type": "crm:E52_Time-Span", "year": f"{year:04d}"}
    return made


def _actors(view: View) -> Iterator[Node]:
    for ident, name in ((OWNER, view.job.owner.name), (TECHNICIAN, view.job.technician.name)):
        if name:
            yield {"id": ident, "type": "crm:E39_Actor", "label": name}


def _by(view: View) -> Node:
    return {"crm:P14_carried_out_by": _ref(TECHNICIAN)} if view.job.technician.name else {}


def _visit(view: View) -> Iterator[Node]:
    """The whole of the work, and what each note tells of it."""
    job = view.job
    own = [{"type": "crm:E7_Activity", "label": n.title, **_span(n.date)} for n in job.notes]
    visit = {
        "id": "#visit",
        "type": "crm:E11_Modification",
        "label": job.title,
        "crm:P31_has_modified": _ref(OBJECT),
        **_by(view),
    }
    said = {"note": job.summary} if job.summary else {}
    yield {**visit, **said, **_span(job.dates.received, job.dates.finished), **({"crm:P9_consists_of": own} if own else {})}
    for number, fault in enumerate(job.faults, 1):
        state = {"type": "crm:E3_Condition_State", "label": fault.symptom}
        found = f"Cause: {fault.cause or 'not found'}. Remedy: {fault.remedy or 'none yet'}."
        assessed = {"crm:P34_concerned": _ref(OBJECT), "crm:P35_has_identified": state, "note": found}
        yield {
            "id": f"#fault-{number}",
            "type": "crm:E14_Condition_Assessment",
            "label": fault.symptom,
            **assessed,
            **_by(view),
        }


def _parts(view: View) -> Iterator[Node]:
    fitted = [p for p in view.job.parts if p.status == "fitted"]
    for number, part in enumerate(fitted, 1):
        yield {**_part(part, f"#part-{number}"), **_by(view)}


def _part(part: PartWork, ident: str) -> Node:
    """A part taken out and another put in; what was only cleaned or repaired is a change of the object."""
    where = f"{part.board}:{part.ref}" if part.board else part.ref
    out = {
        "crm:P112_diminished": _ref(OBJECT),
        "crm:P113_removed": {"type": "crm:E19_Physical_Object", "label": f"{where} {part.was}".strip()},
    }
    into = {
        "crm:P110_augmented": _ref(OBJECT),
        "crm:P111_added": {"type": "crm:E19_Physical_Object", "label": f"{where} {part.now}".strip()},
    }
    done: Mapping[str, tuple[list[str], Node]] = {
        "replaced": (["crm:E80_Part_Removal", "crm:E79_Part_Addition"], {**out, **into}),
        "removed": (["crm:E80_Part_Removal"], out),
        "added": (["crm:E79_Part_Addition"], into),
    }
    kinds, told = done.get(part.action, (["crm:E11_Modification"], {"crm:P31_has_modified": _ref(OBJECT)}))
    said = {"note": part.reason} if part.reason else {}
    return {"id": ident, "type": kinds, "label": f"{where} {part.action}", **told, **said}


def _checks(view: View) -> Iterator[Node]:
    for finding in view.findings.checks:
        for stage, side in (("as found", finding.found), ("as left", finding.left)):
            if side and side.verdict is not Verdict.NOT_MEASURED:
                yield {**_measured(finding, stage, side), **_by(view)}


def _measured(finding: CheckFinding, stage: str, side: Side) -> Node:
    whole = [("", side.results), *((i.item, i.results) for i in side.items)]
    sizes = [_dimension(f"{item} {name}".strip(), v) for item, results in whole for name, v in results.items() if _is_number(v)]
    ident = f"#check-{finding.check.id}-{stage.replace(' ', '-')}"
    told = {"crm:P39_measured": _ref(OBJECT), "crm:P2_has_type": _kind(stage), "note": words.verdict_words(side.verdict)}
    observed = {"crm:P40_observed_dimension": sizes} if sizes else {}
    return {"id": ident, "type": "crm:E16_Measurement", "label": f"{finding.check.title}, {stage}", **told, **observed}


def _is_number(value: Value) -> bool:
    return isinstance(value.value, int | float) and not isinstance(value.value, bool)


def _dimension(name: str, value: Value) -> Node:
    unit = {"crm:P91_has_unit": {"type": "crm:E58_Measurement_Unit", "label": shown_unit(value.unit)}} if value.unit else {}
    return {"type": "crm:E54_Dimension", "label": name.replace("_", " "), "value": value.value, **unit}
