"""Marks as W3C Web Annotations, and back: nothing is lost, and what others write is read or refused by name."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from benchrecord.model.annotations import (
    NoMarkError,
    Picture,
    annotation,
    annotation_page,
    annotations_in,
    fragment_box,
    mark_of,
    svg_shape,
)
from benchrecord.model.job import Mark

PHOTO, SIZE = "photos/a.jpg", (1600.0, 1200.0)
PICTURE = Picture("../assets/abc-1600.webp", (1600.0, 1200.0), "image/webp", "../photos.html#photo-a")
PERCENT = st.decimals(0, 100, places=9).map(float)
LENGTH = st.decimals(-100, 100, places=9).map(float)
WIDE = st.decimals("0.000000001", 40, places=9).map(float)
WORDS = st.text(max_size=40).filter(lambda t: "\0" not in t and not any("\ud800" <= c <= "\udfff" for c in t))
REFS = st.sampled_from(["", "R12", "psu:R12", "RV3", "c4a"])


def known(source: str, scope: str) -> tuple[str, tuple[float, float]] | None:
    return (PHOTO, SIZE) if source in (PHOTO, PICTURE.source) or scope == PICTURE.scope else None


def marks() -> st.SearchStrategy[Mark]:
    """Draw any mark that a table may hold, at up to nine decimals."""
    box = st.tuples(
        st.just("box"), st.decimals(0, 60, places=9).map(float), st.decimals(0, 60, places=9).map(float), WIDE, WIDE
    )
    point = st.tuples(st.just("point"), PERCENT, PERCENT, st.none(), st.none())
    arrow = st.tuples(st.just("arrow"), PERCENT, PERCENT, LENGTH, LENGTH)
    of_no_length = st.tuples(st.just("arrow"), PERCENT, PERCENT, st.none(), st.none())
    return st.tuples(st.one_of(box, point, arrow, of_no_length), WORDS, REFS).map(lambda m: Mark(PHOTO, *m[0], m[1], m[2]))


def there_and_back(mark: Mark, picture: Picture = PICTURE) -> Mark:
    written = json.dumps(annotation_page("marks.jsonld", [annotation(mark, "#1", picture, "../boards/psu.html#R12")]))
    (found,) = annotations_in(json.loads(written))
    return mark_of(found, known)


@given(marks())
@example(Mark(PHOTO, "arrow", 48.2, 48.2, -6.0, -6.0, "bulged, leaked", "C2"))
@example(Mark(PHOTO, "arrow", 0.1, 99.9, 0.0, 0.3, "", ""))
def test_a_mark_comes_back_as_it_was(mark: Mark) -> None:
    assert there_and_back(mark) == mark


@given(marks(), st.integers(1, 20_000), st.integers(1, 20_000))
def test_a_mark_comes_back_from_a_picture_of_any_size(mark: Mark, width: int, height: int) -> None:
    assert there_and_back(mark, Picture(PICTURE.source, (width, height), "image/webp", PICTURE.scope)) == mark


def of(shape: str, w: float | None = None, h: float | None = None) -> dict[str, Any]:
    return annotation(Mark(PHOTO, shape, 25, 25, w, h, "C12 replaced", "C12"), "#1", PICTURE, "../boards/psu.html#C12")


@pytest.mark.parametrize("made", [of("point"), of("box", 50, 50), of("arrow", -5, 5), of("arrow")])
def test_an_annotation_has_what_the_model_asks_for(made: dict[str, Any]) -> None:
    """W3C Web Annotation Data Model, section 3.1 (from memory): a context, an id, the type Annotation, a target."""
    assert (made["@context"], made["type"], made["id"]) == ("http://www.w3.org/ns/anno.jsonld", "Annotation", "#1")
    assert made["target"]["source"] == {"id": PICTURE.source, "type": "Image", "format": "image/webp"}
    assert [(b["purpose"], b.get("value", b.get("source"))) for b in made["body"]] == [
        ("describing", "C12 replaced"), ("tagging", "C12"), ("linking", "../boards/psu.html#C12"),
    ]  # fmt: skip


def test_a_box_is_a_media_fragment_and_a_point_and_an_arrow_are_svg() -> None:
    """Section 4.2.1 and 4.2.7; SVG counts in the pixels of the picture."""
    box, point, arrow = (of(*of_what)["target"]["selector"] for of_what in (("box", 50, 50), ("point",), ("arrow", -5, 10)))
    assert box == {
        "type": "FragmentSelector",
        "conformsTo": "http://www.w3.org/TR/media-frags/",
        "value": "xywh=percent:25,25,50,50",
    }
    assert (point["type"], arrow["type"]) == ("SvgSelector", "SvgSelector")
    (circle,) = ET.fromstring(point["value"])  # noqa: S314  # our own
    assert [circle.get(k) for k in ("cx", "cy")] == ["400", "300"]
    (line,) = ET.fromstring(arrow["value"])  # noqa: S314  # our own
    assert [line.get(k) for k in ("x1", "y1", "x2", "y2")] == ["320", "420", "400", "300"]


def test_a_mark_without_words_has_no_body() -> None:
    assert "body" not in annotation(Mark(PHOTO, "point", 1, 1, None, None, ""), "#1", PICTURE)


@pytest.mark.parametrize(
    "document",
    [
        [of("point"), of("box", 5, 5)],
        {"type": "AnnotationPage", "items": [of("point"), of("box", 5, 5)]},
        {"type": ["AnnotationCollection"], "first": {"type": "AnnotationPage", "items": [of("point"), of("box", 5, 5)]}},
    ],
    ids=["a list", "a page", "a collection"],
)
def test_annotations_are_found_in_every_kind_of_document(document: Any) -> None:
    assert [mark_of(a, known).shape for a in annotations_in(document)] == ["point", "box"]


@pytest.mark.parametrize(
    ("made", "mark"),
    [
        ({"target": f"{PHOTO}#xywh=percent:10,20,30,40", "bodyValue": "here"}, Mark(PHOTO, "box", 10, 20, 30, 40, "here")),
        ({"target": [{"source": PHOTO, "selector": [{"type": "TextQuoteSelector"}, {"type": "FragmentSelector", "value": "xywh=160,120,320,240"}]}]}, Mark(PHOTO, "box", 10, 10, 20, 20, "")),
        ({"target": {"source": {"id": PHOTO}, "selector": {"type": "SvgSelector", "value": "<svg><ellipse cx='800' cy='600' rx='9' ry='5'/></svg>"}}}, Mark(PHOTO, "point", 50, 50, None, None, "")),
        ({"target": {"source": PHOTO, "selector": {"type": "SvgSelector", "value": "<svg xmlns='http://www.w3.org/2000/svg'><g><rect x='160' y='120' width='320' height='240'/></g></svg>"}}}, Mark(PHOTO, "box", 10, 10, 20, 20, "")),
        ({"target": f"{PHOTO}#xywh=0,0,16,12", "body": [{"type": "TextualBody", "value": "<p>hum &amp; hiss</p>", "format": "text/html"}, {"type": "TextualBody", "purpose": "tagging", "value": "noisy"}, {"type": "TextualBody", "purpose": "tagging", "value": "U7"}]}, Mark(PHOTO, "box", 0, 0, 1, 1, "hum & hiss; noisy", "U7")),
    ],
    ids=["an address with a fragment", "the first selector that is understood", "an ellipse", "a rectangle in SVG", "html and tags"],
)  # fmt: skip
def test_what_other_programs_write_is_read(made: dict[str, Any], mark: Mark) -> None:
    assert mark_of(made, known) == mark


@pytest.mark.parametrize(
    "made",
    [
        7, None, {}, {"target": {}}, {"target": "elsewhere.jpg#xywh=1,1,2,2"}, {"target": PHOTO}, {"target": {"source": PHOTO, "selector": {"type": "SvgSelector", "value": "<svg/>"}}},
        {"target": {"source": PHOTO, "selector": {"type": "SvgSelector", "value": "<svg><polygon points='1,1 2,2 3,1'/></svg>"}}},
        {"target": {"source": PHOTO, "selector": {"type": "SvgSelector", "value": "<svg><circle cx='left'/></svg>"}}},
        {"target": {"source": PHOTO, "selector": {"type": "SvgSelector", "value": "<!DOCTYPE s [<!ENTITY a 'b'>]><svg><circle/></svg>"}}},
        {"target": {"source": PHOTO, "selector": {"type": "SvgSelector", "value": "<svg><circle"}}},
    ],
)  # fmt: skip
def test_what_no_mark_can_say_is_refused_with_what_would_do(made: Any) -> None:
    with pytest.raises(NoMarkError) as refused:
        mark_of(made, known)
    assert refused.value.expected


@given(st.recursive(st.none() | st.booleans() | st.floats() | st.text(max_size=8), lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["target", "source", "selector", "type", "value", "body", "items", "id"]), inner, max_size=4), max_leaves=12))  # fmt: skip
def test_any_json_is_read_or_refused(data: Any) -> None:
    for made in annotations_in(data):
        with pytest.raises(NoMarkError):
            mark_of(made, lambda *_: None)


def test_a_shape_on_a_view_box_counts_in_that() -> None:
    assert svg_shape('<svg viewBox="0 0 100 50"><circle cx="50" cy="5" r="1"/></svg>', SIZE) == ("point", 50, 10, None, None)


def test_what_lies_beyond_the_picture_is_cut_off() -> None:
    assert fragment_box("xywh=percent:90,90,20,20", SIZE) == ("box", 90, 90, 10, 10)
