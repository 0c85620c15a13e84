"""The object and its events as linked data, read by a library that knows nothing of us."""

from __future__ import annotations

import json
import re

import pytest
import rdflib
from rdflib.namespace import RDF, RDFS

from benchrecord.pages.view import View
from benchrecord.record.linked_data import linked_data

pytestmark = pytest.mark.filterwarnings("ignore:ConjunctiveGraph")  # the library speaks to itself
CRM = rdflib.Namespace("http://www.cidoc-crm.org/cidoc-crm/")


@pytest.fixture
def graph(view: View) -> rdflib.Graph:
    return rdflib.Graph().parse(data=linked_data(view), format="json-ld", publicID="http://record.invalid/object.jsonld")


def labels(graph: rdflib.Graph, kind: str) -> set[str]:
    return {str(graph.value(node, RDFS.label)) for node in graph.subjects(RDF.type, CRM[kind])}


def test_it_tells_what_the_instrument_is_and_whose(graph: rdflib.Graph) -> None:
    assert labels(graph, "E22_Human-Made_Object") == {"Varnholt & Pike Estuary 44"}
    assert "VP-7" in labels(graph, "E42_Identifier")
    (owner,) = graph.objects(None, CRM.P52_has_current_owner)
    assert str(graph.value(owner, RDFS.label)) == "Ottilie Marrenbach"
    assert "1977" in {str(o) for o in graph.objects(None, CRM.P82_at_some_time_within)}


def test_it_tells_each_act_and_when(graph: rdflib.Graph) -> None:
    assert labels(graph, "E79_Part_Addition") == {"main:R2 replaced"}
    assert labels(graph, "E80_Part_Removal") == {"main:R2 replaced"}
    assert labels(graph, "E14_Condition_Assessment") == {"hum"}
    assert labels(graph, "E16_Measurement") == {"Supply rails, as found", "Supply rails, as left"}
    visit = next(n for n in graph.subjects(RDF.type, CRM.E11_Modification) if str(graph.value(n, RDFS.label)) == "Overhaul")
    span = graph.value(visit, CRM["P4_has_time-span"])
    assert str(graph.value(span, CRM.P82a_begin_of_the_begin)) == "2026-02-03"


def test_readings_are_dimensions_with_unit(graph: rdflib.Graph) -> None:
    found = {
        (float(graph.value(d, CRM.P90_has_value)), str(graph.value(graph.value(d, CRM.P91_has_unit), RDFS.label)))  # type: ignore[arg-type]
        for d in graph.subjects(RDF.type, CRM.E54_Dimension)
        if graph.value(d, CRM.P91_has_unit)
    }
    assert (15.02, "V") in found


def test_nothing_has_to_be_fetched_to_read_it(view: View) -> None:
    document = json.loads(linked_data(view))
    assert isinstance(document["@context"], dict)
    known = set(document["@context"])
    assert {
        name.partition(":")[0] for name in re.findall(r'"((?:crm|xsd|rdfs):[^"]+)":', json.dumps(document["@graph"]))
    } <= known


def test_what_is_not_the_owner_s_is_not_in_it(view: View) -> None:
    for private in (b"Quayside", b"0.1,", b"Not for the owner"):
        assert private not in linked_data(view)
