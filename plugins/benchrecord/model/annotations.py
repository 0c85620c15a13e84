"""Marks as W3C Web Annotations, and back without loss: boxes as media fragments, points and arrows as SVG.

Sources: W3C Web Annotation Data Model (23 February 2017), W3C Media Fragments URI 1.0 (25 September 2012). Places are percent of the
picture in marks and media fragments, pixels of the annotated picture in SVG.
"""

from __future__ import annotations

import html
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from benchrecord.model.job import Mark

CONTEXT, MEDIA_FRAGMENTS = "http://www.w3.org/ns/anno.jsonld", "http://www.w3.org/TR/media-frags/"
DIGITS = 9  # decimals of a percent that a place has when it is read back: what a table holds comes through as it was
POINT_RADIUS, ARROW_LENGTH = (
    0.015,
    0.06,
)  # of the picture's width, for those who draw points as rings and arrows of no length of their own
OF_NO_LENGTH = "of-no-length"
LONGEST_SVG = 20_000  # characters: nobody draws a mark with more
XYWH = re.compile(r"(?:^|[#&])xywh=(?:(?P<unit>pixel|percent):)?(?P<numbers>[^&]*)")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
PART = re.compile(r"(?:[\w-]+:)?[A-Za-z]{1,4}\d{1,4}[A-Za-z]?")
SELECTORS = "a media fragment (xywh=…), or SVG with one circle, ellipse, rect or line"

Size = tuple[float, float]
Shape = tuple[str, float, float, float | None, float | None]  # its kind, x, y, w, h in percent


@dataclass(frozen=True, slots=True)
class Picture:
    """The picture that is annotated: its address, its size in pixels, its media type, and the place of the page that shows it."""

    source: str
    size: Size
    form: str
    scope: str


class NoMarkError(Exception):
    """An annotation that no mark can be made of; the message says what was read, and ``expected`` what would do."""

    def __init__(self, got: str, expected: str) -> None:
        super().__init__(got)
        self.expected = expected


def annotation(mark: Mark, ident: str, picture: Picture, link: str = "") -> dict[str, Any]:
    """Return a mark as an annotation that can stand alone; ``link`` is the address of the part that it names."""
    text = [{"type": "TextualBody", "purpose": "describing", "format": "text/plain", "value": mark.text}] if mark.text else []
    part: list[dict[str, Any]] = (
        [{"type": "TextualBody", "purpose": "tagging", "format": "text/plain", "value": mark.ref}] if mark.ref else []
    )
    part += [{"type": "SpecificResource", "purpose": "linking", "source": link}] if mark.ref and link else []
    source = {"id": picture.source, "type": "Image", "format": picture.form}
    target = {"type": "SpecificResource", "source": source, "scope": picture.scope, "selector": _selector(mark, picture.size)}
    made = {"@context": CONTEXT, "id": ident, "type": "Annotation", "motivation": "describing", "target": target}
    return {**made, "body": [*text, *part]} if text or part else made


def annotation_page(ident: str, annotations: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return annotations as one document."""
    items = [{k: v for k, v in a.items() if k != "@context"} for a in annotations]
    return {"@context": CONTEXT, "id": ident, "type": "AnnotationPage", "items": items}


def _selector(mark: Mark, size: Size) -> dict[str, str]:
    if mark.shape == "box":
        return {
            "type": "FragmentSelector",
            "conformsTo": MEDIA_FRAGMENTS,
            "value": f"xywh=percent:{','.join(_n(v or 0.0) for v in (mark.x, mark.y, mark.w, mark.h))}",
        }
    width, height = size
    x, y = mark.x / 100 * width, mark.y / 100 * height
    if mark.shape == "point":
        drawn = f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(POINT_RADIUS * width)}"/>'
    else:
        own = mark.w is not None or mark.h is not None
        across, along = ((mark.w or 0.0) / 100 * width, (mark.h or 0.0) / 100 * height) if own else (-ARROW_LENGTH * width,) * 2
        look = "arrow" if own else f"arrow {OF_NO_LENGTH}"
        drawn = f'<line class="{look}" x1="{_n(x + across)}" y1="{_n(y + along)}" x2="{_n(x)}" y2="{_n(y)}"/>'
    return {
        "type": "SvgSelector",
        "value": f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(width)} {_n(height)}">{drawn}</svg>',
    }


def annotations_in(data: Any) -> Iterator[Any]:
    """Yield the annotations of a document: one alone, a list, a page or a collection of pages."""
    if isinstance(data, list):
        for item in data:
            yield from annotations_in(item)
    elif isinstance(data, dict):
        kinds = data.get("type")
        inner = data.get("items", data.get("first"))
        if inner is not None and "Annotation" not in (kinds if isinstance(kinds, list) else [kinds]):
            yield from annotations_in(inner)
        else:
            yield data


def mark_of(made: Any, find: Callable[[str, str], tuple[str, Size] | None]) -> Mark:
    """Make a mark of an annotation. ``find`` gives a photo's path and its size in pixels for a source and a scope.

    Raises
    ------
    NoMarkError
        Where it annotates no photo that is known, or in a way that no mark can say.
    """
    target = _first(made.get("target") if isinstance(made, dict) else None)
    if isinstance(target, str):
        target = {"source": target}
    if not isinstance(target, dict):
        raise NoMarkError("no target", "an annotation with a target")
    source, scope = _address(target.get("source", target.get("id"))), _address(target.get("scope"))
    found = find(source.partition("#")[0], scope)
    if found is None:
        raise NoMarkError(f"{source or 'no source'}"[:80], "the address of a photo of this job")
    shape, x, y, w, h = _shape_of(target.get("selector"), source, found[1])
    text, ref = _words(made.get("body"), made.get("bodyValue"))
    return Mark(found[0], shape, x, y, w, h, text, ref)


def _shape_of(selector: Any, source: str, size: Size) -> Shape:
    choices = selector if isinstance(selector, list) else [selector] if selector is not None else []
    for choice in (c for c in choices if isinstance(c, dict)):
        value = str(choice.get("value", ""))
        if choice.get("type") == "SvgSelector":
            return svg_shape(value, size)
        if choice.get("type") == "FragmentSelector" and XYWH.search(value):
            return fragment_box(value, size)
    if XYWH.search(source):
        return fragment_box(source, size)
    raise NoMarkError(f"{selector!r}"[:80] if selector else "no selector", SELECTORS)


def fragment_box(fragment: str, size: Size) -> Shape:
    """Read a media fragment, ``xywh=160,120,320,240`` or ``xywh=percent:25,25,50,50``, on a picture of ``size`` pixels.

    What lies beyond the picture is cut off; decimals are taken, though the grammar of 2012 has whole numbers only.

    Raises
    ------
    NoMarkError
        Where it is no rectangle with an inside.
    """
    match = XYWH.search(fragment)
    texts = match["numbers"].split(",") if match else []
    if match is None or len(texts) != 4 or not all(NUMBER.fullmatch(t) for t in texts):  # noqa: PLR2004  # x, y, w, h
        raise NoMarkError(fragment[:80], "xywh= with four numbers")
    whole = (100.0, 100.0) if match["unit"] == "percent" else size
    x, y, w, h = (float(t) for t in texts)
    if min(x, y) < 0 or min(w, h) <= 0 or x >= whole[0] or y >= whole[1]:
        raise NoMarkError(fragment[:80], "a rectangle in the picture, wider and higher than nothing")
    share = [
        _percent(v, of)
        for v, of in ((x, whole[0]), (y, whole[1]), (min(w, whole[0] - x), whole[0]), (min(h, whole[1] - y), whole[1]))
    ]
    return ("box", *share)  # type: ignore[return-value]  # four numbers


def svg_shape(svg: str, size: Size) -> Shape:
    """Read one shape of an SVG selector on a picture of ``size`` pixels (of its ``viewBox``, where it has one).

    Raises
    ------
    NoMarkError
        Where it is none, or none that a mark can have.
    """
    root = _tree(svg)
    shapes = [e for e in root.iter() if e.tag.rpartition("}")[2] in ("circle", "ellipse", "rect", "line")]
    if len(shapes) != 1:
        raise NoMarkError(svg[:80], SELECTORS)
    box = [float(t) for t in NUMBER.findall(root.get("viewBox", ""))]
    width, height = (box[2], box[3]) if len(box) == 4 and min(box[2:]) > 0 else size  # noqa: PLR2004  # of a viewBox
    shape, kind = shapes[0], shapes[0].tag.rpartition("}")[2]

    def at(name: str, of: float) -> float:
        text = shape.get(name, "0").removesuffix("px")
        if not NUMBER.fullmatch(text):
            raise NoMarkError(svg[:80], f"a number for {name}")
        return _percent(float(text), of)

    if kind in ("circle", "ellipse"):
        return "point", at("cx", width), at("cy", height), None, None
    if kind == "rect":
        return fragment_box(
            f"xywh=percent:{at('x', width)},{at('y', height)},{at('width', width)},{at('height', height)}", size
        )
    x, y = at("x2", width), at("y2", height)
    if OF_NO_LENGTH in shape.get("class", "").split():
        return "arrow", x, y, None, None
    return "arrow", x, y, round(at("x1", width) - x, DIGITS), round(at("y1", height) - y, DIGITS)


def _tree(svg: str) -> ET.Element:
    if len(svg) > LONGEST_SVG or "<!" in svg:
        raise NoMarkError(svg[:80], "a short SVG without declarations")
    try:
        return ET.fromstring(svg)  # noqa: S314  # short, and without declarations that could unfold
    except ET.ParseError as error:
        raise NoMarkError(svg[:80], "SVG that can be read") from error


def _words(bodies: Any, value: Any) -> tuple[str, str]:
    """Return what is said, and the part that is named: the first tag that looks like a designator."""
    texts, ref = [value] if isinstance(value, str) else [], ""
    for body in bodies if isinstance(bodies, list) else [bodies]:
        if isinstance(body, dict) and body.get("type") in (None, "TextualBody") and isinstance(body.get("value"), str):
            said = html.unescape(re.sub(r"<[^<>]*>", "", body["value"])) if body.get("format") == "text/html" else body["value"]
            if body.get("purpose") == "tagging" and not ref and PART.fullmatch(said):
                ref = said
            elif said:
                texts.append(said)
    return "; ".join(texts), ref


def _address(value: Any) -> str:
    if isinstance(value, dict):
        value = value.get("id", "")
    return value if isinstance(value, str) else ""


def _first(value: Any) -> Any:
    return value[0] if isinstance(value, list) and value else value


def _percent(value: float, of: float) -> float:
    return round(value / of * 100, DIGITS)


def _n(number: float) -> str:
    """Write a number so that reading it gives the same."""
    return repr(float(number)).removesuffix(".0")
