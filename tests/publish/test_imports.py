"""Tables from other programs: what was found is said, what is written is read, and nothing is written over unasked."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchrecord.cli import main
from benchrecord.intake import read_job
from benchrecord.model.job import NOWHERE, BoardPart, Job
from benchrecord.problems import has_errors
from benchrecord.publish.imports import Frame, RefusedError, import_marks, import_placement
from folders import contents, picture, write

MM = "Designator,Footprint,Layer,X (mm),Y (mm),Rotation\nC1,CAP,Top,10,20,90\nR1,AX,Bottom,30,5.5,0\n"
UNITS = {"mm": Decimal(1), "mil": Decimal("0.0254"), "inch": Decimal("25.4")}


def job_of(folder: Path) -> Job:
    job, problems = read_job(folder, {})
    assert not has_errors(problems), problems
    assert job is not None
    return job


def imported(folder: Path, text: str, frame: Frame = Frame()) -> tuple[str, tuple[BoardPart, ...]]:  # noqa: B008  # it is frozen
    """Import a file into a job; return what was said, and the board's parts as intake reads them."""
    (folder / "pos.csv").write_text(text, "utf-8")
    said = import_placement(folder / "pos.csv", folder / "boards/psu.csv", frame, replace=True)
    (folder / "pos.csv").unlink()
    return said, tuple(replace(p, place=NOWHERE) for p in job_of(folder).boards[0].parts)


def test_a_board_comes_from_a_layout_program(job: Path) -> None:
    said, parts = imported(job, MM)
    assert parts == (BoardPart("C1", 10, 20, side="top", rotation=90), BoardPart("R1", 30, 5.5, side="bottom", rotation=0))
    assert said.splitlines()[:3] == [
        "pos.csv places 2 parts in millimetres, by its header; X (mm) and Y (mm) are the places.",
        "Its origin is kept: all parts stand to the right of it and above it, the outermost near it.",
        "Kept as they are: Footprint as layout_footprint.",
    ]
    written = (job / "boards/psu.csv").read_text("utf-8").splitlines()
    assert written[0] == f"# {said.splitlines()[0]}"
    assert written[2:] == ["ref,x_mm,y_mm,rotation,side,layout_footprint", "C1,10,20,90,top,CAP", "R1,30,5.5,0,bottom,AX"]


@pytest.mark.parametrize(
    ("frame", "places", "word"),
    [
        (Frame(), [(5, 19.5), (25, 5)], "moved by -105 and 99.5 mm"),
        (Frame(origin=(Decimal(100), Decimal(-120))), [(10, 40), (30, 25.5)], "the corner you gave"),
        (Frame(y_down=True), [(5, 5), (25, 19.5)], "moved by"),
        (Frame(y_down=True, origin=(Decimal(100), Decimal(-120))), [(10, -40), (30, -25.5)], "the corner you gave"),
    ],
    ids=["anywhere", "given", "downwards", "downwards and given"],
)  # fmt: skip
def test_an_origin_anywhere_is_moved_and_that_is_said(
    job: Path, frame: Frame, places: list[tuple[float, float]], word: str
) -> None:
    said, parts = imported(job, "Ref,X (mm),Y (mm)\nC1,110,-80\nR1,130,-94.5\n", frame)
    assert [(p.x, p.y) for p in parts] == places
    assert word in said


def test_columns_that_nobody_knows_are_kept_under_names_that_the_board_may_have(job: Path) -> None:
    imported(job, "Ref,X (mm),Y (mm),Mount Type,mount-type,Höhe,valeu\nR1,1,2,smd,b,3,x\n")
    header = (job / "boards/psu.csv").read_text("utf-8").splitlines()[2]
    assert header == "ref,x_mm,y_mm,layout_mount_type,layout_mount_type_2,layout_höhe,layout_valeu"


def test_a_misspelt_column_of_a_board_is_still_a_problem(job: Path) -> None:
    write(job, {"boards/b.csv": "ref,x_mm,y_mm,valeu,layout_x\nR1,1,2,x,y\n"})
    assert [(p.code, p.got, p.remedy) for p in read_job(job, {})[1]] == [("unknown-column", "valeu", "write value")]


def test_rows_that_are_left_out_are_said(job: Path) -> None:
    said, parts = imported(job, "Ref,X (mm),Y (mm)\nR1,1,2\n" + "REF**,3,4\n" * 10)
    assert len(parts) == 1
    assert "REF** in line 10 and 2 more." in said


def test_a_table_that_is_there_is_left_alone_unless_asked(job: Path) -> None:
    write(job, {"boards/psu.csv": "ref,x_mm,y_mm\nR9,1,2\n", "pos.csv": MM})
    before = contents(job)
    with pytest.raises(RefusedError, match="--replace"):
        import_placement(job / "pos.csv", job / "boards/psu.csv", Frame(), replace=False)
    assert contents(job) == before
    import_placement(job / "pos.csv", job / "boards/psu.csv", Frame(), replace=True)
    assert sorted(contents(job)) == ["boards/psu.csv", "job.yml", "pos.csv"]
    assert b"R9" not in contents(job)["boards/psu.csv"]


def test_what_cannot_be_read_writes_nothing(job: Path) -> None:
    write(job, {"pos.csv": "Ref,X,Y\nR1,1,2\n"})
    with pytest.raises(RefusedError, match="--unit mil"):
        import_placement(job / "pos.csv", job / "boards/psu.csv", Frame(), replace=False)
    with pytest.raises(RefusedError, match="No such file"):
        import_placement(job / "gone.csv", job / "boards/psu.csv", Frame(), replace=False)
    with pytest.raises(RefusedError, match="No such file"):
        import_placement(job / "pos.csv", job / "no/such/psu.csv", Frame("mm"), replace=False)
    assert sorted(contents(job)) == ["job.yml", "pos.csv"]


AT = st.decimals(-400, 400, places=4)


@settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(AT, AT), min_size=1, max_size=6),
    st.sampled_from(sorted(UNITS)),
    st.tuples(AT, AT),
    st.sampled_from([",", ";", "\t"]),
)
def test_places_are_what_they_were_in_any_unit_from_any_origin(
    tmp_path_factory: pytest.TempPathFactory,
    places: list[tuple[Decimal, Decimal]],
    unit: str,
    origin: tuple[Decimal, Decimal],
    between: str,
) -> None:
    """A board in mm, told in another unit from another origin, comes back in mm to the last digit."""
    folder = write(tmp_path_factory.mktemp("any") / "small", {})
    rows = [
        (f"R{n}", *(f"{at / UNITS[unit] + o:f}" for at, o in zip(place, origin, strict=True)))
        for n, place in enumerate(places, 1)
    ]
    text = "\n".join(between.join(row) for row in [("Ref", f"X ({unit})", f"Y ({unit})"), *rows])
    _, parts = imported(folder, text, Frame(unit, origin))
    for part, place in zip(parts, places, strict=True):
        assert (part.x, part.y) == pytest.approx([float(at) for at in place], abs=1e-9)


MARKS = 'photo,shape,x,y,w,h,text,ref\nphotos/a.jpg,box,18.6,31.7,14,8,charred,R2\nphotos/a.jpg,arrow,48.2,48.2,-6,-6,"bulged, leaked",psu:C2\nphotos/a.jpg,arrow,1,2,,,,\nphotos/b.jpg,point,85.6,33.123456789,,,reference trim,RV3\n'  # fmt: skip


def marked(folder: Path) -> Path:
    return write(
        folder,
        {
            "photos/a.jpg": picture(64, 48),
            "photos/b.jpg": picture(48, 64),
            "boards/psu.csv": "ref,x_mm,y_mm\nC2,1,2\nR2,3,4\nRV3,5,6\n",
            "marks.csv": MARKS,
        },
    )


def test_the_marks_of_a_built_site_come_back_as_they_were(job: Path, tmp_path: Path) -> None:
    from benchrecord.publish.build import build  # noqa: PLC0415  # most tests do without mkdocs

    before = job_of(marked(job)).marks
    site = build([job], edition=None, site_dir=tmp_path / "site", kinds=[])
    (job / "marks.csv").unlink()
    said = import_marks(site / "jobs/small/data/marks.jsonld", job, job_of(job), replace=False)
    assert said == f"4 marks written to {job / 'marks.csv'}."
    assert [replace(m, place=NOWHERE) for m in job_of(job).marks] == [replace(m, place=NOWHERE) for m in before]
    assert (job / "marks.csv").read_text("utf-8").splitlines()[1:3] == [
        "photos/a.jpg,box,18.6,31.7,14,8,charred,R2",
        'photos/a.jpg,arrow,48.2,48.2,-6,-6,"bulged, leaked",psu:C2',
    ]


def test_marks_of_others_are_taken_and_what_no_mark_can_say_is_named(job: Path) -> None:
    write(job, {"photos/a.jpg": picture(64, 48)})
    made = [
        {"type": "Annotation", "target": "https://bench.example/a.jpg#xywh=32,12,16,24"},
        {"type": "Annotation", "target": "c.jpg#xywh=1,1,2,2"},
    ]
    (job / "in.json").write_text(json.dumps(made))
    said = import_marks(job / "in.json", job, job_of(job), replace=False)
    assert (job / "marks.csv").read_text("utf-8") == "photo,shape,x,y,w,h,text,ref\nphotos/a.jpg,box,50,25,25,50,,\n"
    assert "annotation 2" in said
    with pytest.raises(RefusedError, match="--replace"):
        import_marks(job / "in.json", job, job_of(job), replace=False)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"type": "Annotation", "target": "x"}', "[" * 100_000])
def test_a_file_without_marks_is_refused(job: Path, text: str) -> None:
    (job / "in.json").write_text(text)
    with pytest.raises(RefusedError):
        import_marks(job / "in.json", job, job_of(job), replace=False)
    assert not (job / "marks.csv").exists()


def test_both_are_commands(job: Path) -> None:
    write(marked(job), {"pos.csv": "Ref,X,Y\nR1,100,200\n", "in.json": '[{"target": "a.jpg#xywh=1,1,2,2"}]'})
    run = CliRunner().invoke
    asked = run(main, ["import-placement", str(job / "pos.csv"), str(job / "boards/b.csv")])
    assert (asked.exit_code, "--unit mil" in asked.output) == (1, True)
    told = run(
        main, ["import-placement", str(job / "pos.csv"), str(job / "boards/b.csv"), "--unit", "mil", "--origin", "50,50"]
    )
    assert (told.exit_code, "in mils, by --unit" in told.output) == (0, True)
    assert (
        run(
            main, ["import-placement", str(job / "pos.csv"), str(job / "boards/c.csv"), "--unit", "mm", "--origin", "left"]
        ).exit_code
        == 2
    )
    assert run(main, ["import-marks", str(job / "in.json"), str(job)]).exit_code == 1
    assert run(main, ["import-marks", str(job / "in.json"), str(job), "--replace"]).exit_code == 0
