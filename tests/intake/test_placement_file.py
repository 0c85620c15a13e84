"""Placement files of layout programs: any head, any unit that is said, and nothing that is guessed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.intake.placement_file import Placements, read_placements
from benchrecord.problems import Problem


def read(text: str | bytes, unit: str | None = None) -> tuple[Placements | None, list[Problem]]:
    report: list[Problem] = []
    return read_placements(text if isinstance(text, bytes) else text.encode(), "a.csv", unit, report), report


def placed(text: str | bytes, unit: str | None = None) -> Placements:
    found, report = read(text, unit)
    assert report == []
    assert found is not None
    return found


def places(text: str | bytes, unit: str | None = None) -> dict[str, tuple[Decimal, Decimal]]:
    return {p.ref: (p.x, p.y) for p in placed(text, unit).parts}


def refusal(text: str | bytes, unit: str | None = None) -> list[tuple[str, int | None, str]]:
    found, report = read(text, unit)
    assert found is None
    return [(p.code, p.place.line, p.got) for p in report]


HALF_INCH = {"R12": (Decimal("12.7"), Decimal("25.4"))}
SPELLINGS = [
    "Ref,X (mm),Y (mm)\nR12,12.7,25.4\n",
    "Designator,Mid X,Mid Y,Ref X,Ref Y,Pad X,Pad Y\nR12,12.7mm,25.4mm,1mm,1mm,2mm,2mm\n",
    "Designator\tPad X\tPad Y\tCenter-X(mil)\tCenter-Y(mil)\nR12\t9\t9\t500\t1000\n",
    '"Ref-X(mil)";"Ref-Y(mil)";"Designator"\n500;1000;"R12"\n',
    "RefDes,X Location [in],Y Location [in]\nR12,.5,1\n",
    "REFERENCE,PosX_mm,PosY_mm\nR12,12.7,25.4\n",
    "Name,X,Y\nR12,500 mil,1 in\n",
    'Part,x,y\nR12,"0.5""","1"""\n',
    "Component,X-Coord,Y-Coord,Units\nR12,500,1000,mils\n",
    "Ref Des;SYM_X;SYM_Y\nR12;12,7mm;25,4mm\n",
    "# units: inches\nref,x,y\nR12,0.5,1\n",
    "Pick and place\nUnits used: mil\n\nDesignator,Location X,Location Y\nR12,500,1000\n",
    "All dimensions are in millimetres\nDesignator,Centroid X,Centroid Y\nR12,12.7,25.4\n",
    "## Unit = mm, Angle = deg.\n# Ref   Val   PosX     PosY     Rot\nR12     4k7   12.7000  25.4000  0\n## End\n",
    "Units: in\nRef,X,Y\nR12,0.5,1\n",
    "Ref Val X(in) Y(in)\nR12 4k7 0.5 1.0\n",
    "Ref,X (inch),Y (inch)\r\n\r\nR12,5e-1,1.0\r\n",
]


@pytest.mark.parametrize("text", SPELLINGS)
def test_a_place_is_the_same_however_it_is_written(text: str) -> None:
    assert places(text) == HALF_INCH


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_read_in_what_programs_write(encoding: str) -> None:
    found = placed("Designator,Value,X (mm),Y (mm)\nC1,4.7 µF,1,2\n".encode(encoding))
    assert (found.parts[0].words["value"], found.parts[0].x) == ("4.7 µF", 1)


def test_what_told_the_unit_is_said() -> None:
    assert (placed("Ref,X (mm),Y (mm)\nR1,1,2\n").told_by, placed("Ref,X,Y\nR1,1,2\n", "mil").told_by) == (
        "its header",
        "--unit",
    )
    mixed = placed("Unit: mm\nRef,X,Y\nR1,1,2\nR2,10mil,20mil\n")
    assert (mixed.units, mixed.told_by) == (("mil", "mm"), "its cells and the lines above its table")
    assert mixed.heads == ("X", "Y")


@pytest.mark.parametrize("text", ["Ref,X,Y\nR1,100,200\nR2,1,2\n", "Ref,X,Y\nR1,100mil,200mil\nR2,1,2\n"])
def test_a_unit_that_nobody_says_is_asked_for_once(text: str) -> None:
    ((code, _, _),) = refusal(text)
    assert code == "wrong-unit"
    assert "--unit mil" in read(text)[1][0].remedy
    assert len(placed(text, "mil").parts) == 2


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("Ref,X (mm),Y (mil)\nR1,1,2\n", None),
        ("Unit: mil\nRef,X (mm),Y (mm)\nR1,1,2\n", None),
        ("Ref,X (mm),Y (mm)\nR1,1,2\n", "inch"),
    ],
)
def test_two_units_for_one_number_are_a_problem(text: str, unit: str | None) -> None:
    ((code, _, said),) = refusal(text, unit)
    assert (code, "mm by its header" in said) == ("wrong-unit", True)


def test_a_unit_in_millimetres_is_exact() -> None:
    """1 mil is 0.0254 mm and 1 inch 25.4 mm, by definition (international yard and pound agreement of 1959)."""
    assert places("Ref,X,Y\nR1,1234.5mil,-0.0001in\n")["R1"] == (Decimal("31.35630"), Decimal("-0.00254"))


def test_sides_and_turns_get_plain_words_and_what_is_unknown_is_kept() -> None:
    text = 'Designator,Comment,Layer,Footprint,X (mm),Y (mm),Rotation,Note,Note,\nC1,100n,TopLayer,"CAP, 5 mm",1,2,90.0°,a,b,c\nR1,4k7,B.Cu,AX,3,4,-45,,,\nQ1,x,inner 2,TO,5,6,upright,,,\n'
    c1, r1, q1 = placed(text).parts
    assert c1.words == {"rotation": "90.0", "side": "top", "value": "100n"}
    assert c1.more == {"Footprint": "CAP, 5 mm", "Note": "a", "Note 9": "b", "column 10": "c"}
    assert (r1.words["side"], r1.words["rotation"], q1.words["side"], "rotation" in q1.words) == (
        "bottom",
        "-45",
        "inner 2",
        False,
    )


def test_rows_without_a_designator_are_left_out_by_name() -> None:
    assert placed("Ref,X (mm),Y (mm)\nR1,1,2\nREF**,3,4\n,5,6\nfiducial,7,8\n").left_out == (
        (3, "REF**"),
        (4, ""),
        (5, "fiducial"),
    )


@pytest.mark.parametrize(
    ("text", "refused"),
    [
        ("Ref,X (mm),Y (mm)\nR1,1,2\nR2,left,2\nR3,3,\n", [("not-a-number", 3, "left"), ("not-a-number", 4, "nothing")]),
        ("Ref,X (mm),Y (mm)\nR1,1,2\n\n# R1 again\nR1,3,4\n", [("duplicate-id", 5, "R1")]),
        ('Ref,X (mm),Y (mm)\nR1,"1,234",2\n', [("ambiguous-decimal", 2, "1,234")]),
        ('Ref,X (mm),Y (mm)\nR1,"1,234.5",2.5\n', [("ambiguous-decimal", 2, "1,234.5 and 1,234.5")]),
        ("Ref;X (mm);Y (mm)\nR1;1,5;2.5\n", [("ambiguous-decimal", 2, "1,5 and 2.5")]),
        ("", [("csv-syntax", None, "nothing")]),
        ("Dear diary\n", [("csv-syntax", None, "Dear diary")]),
        ("Ref,X (mm)\nR1,1\n", [("csv-syntax", None, "Ref,X (mm)")]),
        ("Ref,X (mm),Y (mm)\n", [("csv-syntax", None, "no row with a designator")]),
        ("Ref,X (mm),Y (mm)\n" + "x" * 140_000, [("csv-syntax", None, "field larger than field limit (131072)")]),
        ("Ref,X (mm),Y (mm)\nR1,1e999,1\n", [("not-a-number", 2, "1e999")]),
    ],
    ids=[
        "no numbers",
        "twice",
        "a group or decimals",
        "both signs in a cell",
        "both signs",
        "empty",
        "words",
        "no y",
        "no parts",
        "a cell without end",
        "beyond all numbers",
    ],
)
def test_what_cannot_be_read_is_named_with_its_line(text: str, refused: list[tuple[str, int | None, str]]) -> None:
    assert refusal(text) == refused


def test_a_decimal_comma_is_found_out() -> None:
    assert (
        places('Ref,X (mm),Y (mm)\nR1,"12,75","3,5"\n')
        == places("Ref;X (mm);Y (mm)\nR1;12,75;3,5\n")
        == {"R1": (Decimal("12.75"), Decimal("3.5"))}
    )


PIECES = st.sampled_from(
    [
        "Ref",
        "X (mm)",
        "Y",
        "mid x",
        ",",
        ";",
        "\t",
        " ",
        "\n",
        '"',
        "#",
        "R1",
        "1",
        "-2.5",
        "1,5",
        "3mil",
        "\0",
        "Unit: mm",
        "1e99",
        "é",
        "x",
    ]
)


@settings(deadline=None)
@given(
    st.lists(PIECES, max_size=30).map("".join) | st.lists(PIECES, max_size=12).map(lambda p: "Ref,X,Y\n" + "".join(p)),
    st.sampled_from([None, "mil"]),
)
def test_any_text_is_read_or_refused_with_a_reason(text: str, unit: str | None) -> None:
    found, report = read(text, unit)
    assert (found is None) == bool(report)
    assert all(p.remedy and p.expected for p in report)


@given(st.binary(max_size=60))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    found, report = read(data)
    assert (found is None) == bool(report)
