"""A job for anyone to read says whose data are to be withheld, or is warned that nothing can be searched for."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from benchrecord.checks import all_kinds, schemas
from benchrecord.cli import main
from benchrecord.intake import read_job
from benchrecord.problems import Problem
from benchrecord.publish.cache import Cache
from benchrecord.publish.owner_lint import MAX_FINDS, personal_data
from folders import write

HEAD = "title: Full overhaul\ninstrument: {maker: Varnholt & Pike, model: Estuary 44}\nsummary: A first look.\npublish: yes\n"
NOTEBOOK = (
    "# Notebook\n\nIt belongs to Ottilie Marrenbach, 7 Sluice Lane,\nHarrowmere. Call 030 1234567 or zoe@marrenbach.example.\n"
)


def warned(folder: Path, files: dict[str, str | bytes]) -> list[Problem]:
    job, problems = read_job(write(folder / "job", {"job.yml": HEAD, **files}), schemas(all_kinds()))
    assert job
    assert problems == ()
    return list(personal_data(folder / "job", job, Cache(folder / "cache")))


def places(problems: list[Problem]) -> list[tuple[str, str, int | None, str | int | None]]:
    return [(p.code, p.place.file, p.place.line, p.place.column) for p in problems]


def test_a_pasted_notebook_is_pointed_at_line_by_line(tmp_path: Path) -> None:
    assert sorted(places(warned(tmp_path, {"notes/10-a.md": NOTEBOOK})), key=str) == [
        ("no-owner", "job.yml", 4, 10),
        ("personal-data", "notes/10-a.md", 3, 35),
        ("personal-data", "notes/10-a.md", 3, 4),
        ("personal-data", "notes/10-a.md", 4, 18),
        ("personal-data", "notes/10-a.md", 4, 33),
    ]


def test_tables_and_yaml_are_looked_through_too(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "job.yml": HEAD.replace("A first look.", "For Mr Lang."),
        "faults.csv": "symptom,cause\nhum,see Sonnenallee 12\n",
        "parts.csv": "ref,action,reason,note\nR1,replaced,call 0171 1234567,call 0171 7654321\n",
    }
    assert places(warned(tmp_path, files))[1:] == [
        ("personal-data", "job.yml", 3, 14),
        ("personal-data", "parts.csv", 2, "reason"),
        ("personal-data", "faults.csv", 2, "cause"),
    ]


def test_nobody_is_warned_where_nobody_reads_it(tmp_path: Path) -> None:
    assert warned(tmp_path, {"job.yml": HEAD.replace("publish: yes\n", ""), "notes/10-a.md": NOTEBOOK}) == []


@pytest.mark.parametrize("owner", ["owner: none\n", "owner: nobody\n"])
def test_where_nobody_owns_it_others_may_be_named_all_the_same(tmp_path: Path, owner: str) -> None:
    found = warned(tmp_path, {"job.yml": HEAD + owner, "notes/10-a.md": NOTEBOOK})
    assert {p.code for p in found} == {"personal-data"}
    assert len(found) == 4


@pytest.mark.parametrize("owner", ["owner:\n", "owner: {}\n", "owner: {name: }\n", "owner: {name: …, email: …}\n"])
def test_an_owner_without_a_value_is_none_that_can_be_searched_for(tmp_path: Path, owner: str) -> None:
    assert places(warned(tmp_path, {"job.yml": HEAD + owner}))[0][0] == "no-owner"


OWNER = "owner: {name: Ottilie Marrenbach, email: zoe@marrenbach.example, phone: +49 30 1234567, address: '7 Sluice Lane, Harrowmere'}\n"
OTHERS = [
    ("Another customer, {}, has one too.", "Mr Sandrock"),
    ("It once {}.", "belonged to Hedwig"),
    ("Its twin stands at {} there.", "12 Mill Lane"),
    ("Manual from {}.", "+44 1632 960123"),
    ("The former owner: {}.", "call 0171 5550143"),
    ("Drawings came from {}.", "sandrock@mail.example"),
    ("Sent to {} in May.", "Kirchsteig 12, 83209 Hallbruck"),
]


def test_what_the_site_is_searched_for_needs_no_pointer(tmp_path: Path) -> None:
    assert warned(tmp_path, {"job.yml": HEAD + OWNER, "notes/10-a.md": NOTEBOOK}) == []


@pytest.mark.parametrize(("sentence", "words"), OTHERS)
@pytest.mark.parametrize("where", ["notes/10-a.md", "parts.csv", "faults.csv", "job.yml"])
def test_others_than_the_owner_are_pointed_at_beside_one_whose_data_are_all_known(
    tmp_path: Path, sentence: str, words: str, where: str
) -> None:
    text = sentence.format(words)
    files: dict[str, str | bytes] = {
        "notes/10-a.md": f"{NOTEBOOK}\n{text}\n",
        "parts.csv": f'ref,action,reason\nR1,replaced,"{text}"\n',
        "faults.csv": f'symptom,cause\nhum,"{text}"\n',
        "job.yml": HEAD.replace("A first look.", f'"{text}"'),
    }
    head = files["job.yml"] if where == "job.yml" else HEAD
    found = warned(tmp_path, {where: files[where], "job.yml": f"{head}{OWNER}"})
    assert {(p.code, p.place.file) for p in found} == {("personal-data", where)}
    assert any(words.removeprefix("call ") in p.got for p in found)


def test_a_value_of_the_owner_that_is_too_short_to_be_searched_for_is_pointed_at(tmp_path: Path) -> None:
    found = warned(tmp_path, {"job.yml": HEAD + "owner: {name: Li, phone: '1'}\n", "notes/10-a.md": "For Mr Li.\n"})
    assert places(found) == [("personal-data", "notes/10-a.md", 1, 5)]


def test_what_is_for_fewer_readers_and_what_is_the_technician_s_own_is_no_alarm(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "job.yml": HEAD + "technician: {phone: 0171 1234567, email: bench@hathersedge.example}\n",
        "notes/10-a.md": "---\nedition: owner\n---\n" + NOTEBOOK,
        "notes/20-b.md": "Questions to 0171 1234567 or bench@hathersedge.example.\n<!-- 030 1234567 -->\n",
    }
    assert [code for code, *_ in places(warned(tmp_path, files))] == ["no-owner"]


def test_many_are_shown_up_to_a_bound(tmp_path: Path) -> None:
    assert len(warned(tmp_path, {"notes/10-a.md": "Mr Lang\n" * 1000})) == MAX_FINDS + 1


def test_check_and_build_warn_and_go_on(tmp_path: Path) -> None:
    job = write(tmp_path / "job", {"job.yml": HEAD, "notes/10-a.md": NOTEBOOK})
    checked = CliRunner().invoke(main, ["check", str(job)])
    assert (checked.exit_code, checked.output.splitlines()[-1]) == (0, "5 warnings")
