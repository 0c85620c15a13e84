"""Media fragments as published, and the annotation of the data model's own form.

Source: W3C Media Fragments URI 1.0 (basic), 25 September 2012, section 4.2.2; W3C Web Annotation Data Model, 23 February 2017, 4.2.1.
"""

from __future__ import annotations

from typing import Any

import pytest

from benchrecord.model.annotations import NoMarkError, fragment_box, mark_of
from benchrecord.model.job import Mark
from reference.published import data

CASES = data("14-bagit-annotation.json")
FRAGMENTS = CASES["media_fragments"]


@pytest.mark.parametrize("case", FRAGMENTS["cases"], ids=lambda c: c["fragment"])
def test_published_fragments_are_read(case: dict[str, Any]) -> None:
    width, height = case.get("on_image", (800, 600))
    _, *share = fragment_box(case["fragment"], (width, height))
    sizes = (100, 100, 100, 100) if case["unit"] == "percent" else (width, height, width, height)
    assert share == pytest.approx([case[k] / size * 100 for k, size in zip("xywh", sizes, strict=True)], abs=1e-9)
    if "pixels" in case:
        assert [s / 100 * of for s, of in zip(share, (width, height) * 2, strict=True)] == pytest.approx(case["pixels"])


@pytest.mark.parametrize("case", FRAGMENTS["derived_cases"], ids=lambda c: c["fragment"])
def test_cases_at_the_edge_are_read_cut_off_or_refused(case: dict[str, Any]) -> None:
    if "not" in case.get("note", "") and "decimals" not in case["note"]:
        with pytest.raises(NoMarkError):
            fragment_box(case["fragment"], (800, 600))
    else:
        _, *share = fragment_box(case["fragment"], (800, 600))
        x, y, w, h = case.get("clipped_percent") or [float(t) for t in case["fragment"].split(":")[1].split(",")]
        assert share == pytest.approx([x, y, min(w, 100 - x), min(h, 100 - y)])


def test_the_published_form_of_an_annotation_becomes_a_mark() -> None:
    made = CASES["web_annotation"]["example"]
    mark = mark_of(made, lambda source, _: (source, (800, 600)))
    assert mark == Mark("photos/board-a.jpg", "box", 25, 25, 50, 50, "C12 replaced")


def test_the_check_value_is_met() -> None:
    """Row ``pct`` of the checks: 25,25,50,50 % on 800 × 600 is 200,150,400,300 pixels; the other way round here."""
    assert fragment_box("xywh=200,150,400,300", (800, 600)) == ("box", 25, 25, 50, 50)
