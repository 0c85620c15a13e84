"""A whole build, a record and a preview by the rules of other systems: the same bytes come of them everywhere."""

from __future__ import annotations

import importlib
import io
import random
import shutil
import unicodedata
from pathlib import Path
from typing import Literal

import pytest

from benchrecord.checks import all_kinds
from benchrecord.problems import Problem
from benchrecord.publish.build import Refused, build
from benchrecord.publish.hand_over import Wish, hand_over
from benchrecord.publish.preview.saving import Files
from benchrecord.publish.site_record import RECORD, foreign
from benchrecord.publish.work import read_all
from benchrecord.record.verify import verify
from folders import contents, picture, sound
from forked import READY
from once import DEMO_EPOCH
from small_jobs import SMALL_JOB, write_job
from systems import PLAIN_OPEN, Windows, place_of

Form = Literal["NFC", "NFD"]


@pytest.fixture(autouse=True)
def _loaded() -> None:
    """Load libraries beforehand: they look at the system while they are imported, and are those of this one."""
    for name in (*READY, "pypdf", "pypdfium2"):
        importlib.import_module(name)


def built(folder: Path, site: Path) -> dict[str, bytes]:
    build([folder], edition="archive", site_dir=site, kinds=[])
    return contents(site)


@pytest.mark.slow
def test_a_site_built_by_the_rules_of_windows_is_the_same_in_every_byte(
    tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", DEMO_EPOCH)
    job = write_job(tmp_path / "job", SMALL_JOB)
    here = built(job, tmp_path / "here/site")
    shutil.copytree(tmp_path / "here/site", tmp_path / "there/site")  # a former one, to be exchanged
    rules: Windows = request.getfixturevalue("windows")
    assert built(job, tmp_path / "there/site") == here
    assert [p.name for p in (tmp_path / "there").iterdir()] == ["site"]
    assert {Path(path).name for path in rules.refused} == {".site.benchrecord-lock"}  # removed as soon as it was closed


@pytest.mark.slow
@pytest.mark.usefixtures("windows")
@pytest.mark.parametrize("form", ["folder", "zip"])
def test_a_record_is_handed_over_by_the_rules_of_windows(tmp_path: Path, form: str) -> None:
    job = write_job(tmp_path / "job", SMALL_JOB)
    made = hand_over(job, Wish(tmp_path / "stick", zipped=form == "zip", with_pdf=False))
    assert verify(made).faults == ()
    assert [p.name for p in (tmp_path / "stick").iterdir()] == [made.name]


@pytest.mark.slow
def test_every_name_of_the_demo_is_one_that_windows_can_hold(demo_site: Path) -> None:
    rules, names = Windows(demo_site), [path.relative_to(demo_site).as_posix() for path in demo_site.rglob("*")]
    for name in names:
        rules.may_be_made(demo_site / name)
    assert len({place_of(name) for name in names}) == len(names) > 100


# --- Accents, in either form, on disks of either kind ---

ACCENTED = ("ä", "é", "ñ", "Å", "ǭ", "ế", "한", "が")


def with_accents(seed: int) -> dict[str, str | bytes]:
    """Return a job in which every name has accents and is named elsewhere."""
    dice = random.Random(seed)  # noqa: S311  # names, not secrets
    board, photo, table, paper, sound_, note = (f"{word}{''.join(dice.choices(ACCENTED, k=3))}" for word in WORDS)
    return {
        "job.yml": f"title: T{board}\npublish: yes\ncover: {photo}.jpg\nmodules: [{{id: {board}, title: M, boards: [{board}]}}]\n",
        f"boards/{board}.yml": f"title: B\nsize_mm: [60, 40]\nphotos: [{{file: '{photo}.jpg', points: [{POINTS}]}}]\n",
        f"boards/{board}.csv": "ref,x_mm,y_mm\nR2,10,10\n",
        "parts.csv": f"board,ref,action,reason\n{board},R2,replaced,{note}\n",
        f"photos/{photo}.jpg": picture(),
        "photos.csv": f"file,caption,board\n{photo}.jpg,{photo},{board}\n",
        "marks.csv": f"photo,shape,x,y,text\n{photo}.jpg,point,10,10,{photo}\n",
        f"documents/{paper}.pdf": b"%PDF-1.4 of others",
        "documents.csv": f"file,title\n{paper}.pdf,{paper}\n",
        f"recordings/{sound_}.wav": sound(1.0),
        "checks.yml": (
            f"- {{id: {table}, title: Rails, kind: readings, board: {board}, file: {table}.csv}}\n"
            f"- {{id: tone, title: Tone, kind: spectrum, expect: sine, module: {board}, as_left: {sound_}.wav}}\n"
        ),
        f"measurements/{table}.csv": "item,unit,nominal,low,high,as_left\n+15 V,V,15,14.85,15.15,15.02\n",
        "patches.yml": f"- {{id: p, title: P, recording: {sound_}.wav, connections: [{{from: a, to: b}}]}}\n",
        f"notes/10-{note}.md": f"---\nboard: {board}\n---\n[a](photo:{photo}.jpg) [b](board:{board}) [c](check:{table})\n",
        "notes/20-more.md": f"[d](note:10-{note}) [e](module:{board}) [f]({board}:R2) [g](recording:{sound_}.wav)\n",
    }


WORDS = ("board", "photo", "table", "paper", "sound", "note")
POINTS = ", ".join(f"{{mm: [{x}, {y}], px: [{x}, {40 - y}]}}" for x, y in ((1, 1), (50, 1), (50, 30), (1, 30)))
FORMS = [(disk, text) for disk in ("NFC", "NFD") for text in ("NFC", "NFD")]


def stored(files: dict[str, str | bytes], disk: Form, text: Form) -> dict[str, str | bytes]:
    """Return files with their names in one form of Unicode, and their text in one."""
    return {
        unicodedata.normalize(disk, name): content if isinstance(content, bytes) else unicodedata.normalize(text, content)
        for name, content in files.items()
    }


def problems_of(folder: Path) -> list[Problem]:
    return list(read_all([folder], all_kinds())[1])


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("disk", "text"), FORMS)
def test_a_name_with_accents_is_found_in_whatever_form_it_is_written_and_stored(
    tmp_path: Path, seed: int, disk: Form, text: Form
) -> None:
    job = write_job(tmp_path / "job", stored(with_accents(seed), disk, text))
    assert problems_of(job) == []


@pytest.mark.parametrize(("disk", "text"), FORMS)
def test_it_is_found_on_a_disk_that_takes_all_forms_for_one(one_for_all: Path, disk: Form, text: Form) -> None:
    job = write_job(one_for_all / "job", stored(with_accents(1), disk, text))
    assert problems_of(job) == []


@pytest.mark.slow
def test_what_is_published_is_the_same_for_every_form_on_every_disk(
    tmp_path: Path, one_for_all: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", DEMO_EPOCH)
    sites = [
        built(write_job(tmp_path / disk / "job", stored(with_accents(2), disk, disk)), folder / "site")
        for disk, folder in (("NFC", tmp_path), ("NFD", one_for_all))
    ]
    assert list(foreign(one_for_all / "site")) == []
    assert all(name == unicodedata.normalize("NFC", name) for name in sites[0])
    for site in sites:
        del site[RECORD]  # names files as the disk has them
    assert sites[0] == {unicodedata.normalize("NFC", name): content for name, content in sites[1].items()}
    assert len([name for name in sites[0] if not name.isascii()]) > 3


@pytest.mark.slow
def test_what_is_handed_over_is_the_same_for_every_form(tmp_path: Path, one_for_all: Path) -> None:
    records = []
    for folder, disk in ((tmp_path, "NFC"), (one_for_all, "NFD")):
        job = write_job(tmp_path / disk / "job", stored(with_accents(3), disk, disk))
        made = hand_over(job, Wish(folder / "stick", with_pdf=False))
        records.append({unicodedata.normalize("NFC", name): content for name, content in contents(made).items()})
    assert records[0] == records[1]
    assert [name for name in records[0] if name.startswith("data/recordings/sound")]


def test_a_file_whose_name_is_stored_in_nfd_is_saved_in_its_own_place(tmp_path: Path) -> None:
    name, like = "boards/Prüfung.csv", unicodedata.normalize("NFD", "boards/Prüfung.csv")
    job = write_job(tmp_path / "job", {like: "ref,x_mm,y_mm\n"})
    files = Files(job)
    files.save(name, files.version(name), lambda data: data + b"R9,1,1\n", "R9")
    assert sorted(contents(job)) == sorted(["job.yml", like])
    assert contents(job)[like].endswith(b"R9,1,1\n")


def test_two_names_that_differ_in_their_form_alone_are_told_apart_by_nobody(job: Path) -> None:
    names = {unicodedata.normalize(form, "notes/Prüfung.md"): "x" for form in ("NFC", "NFD")}
    if len(list((write_job(job, names) / "notes").iterdir())) == 1:
        pytest.skip("this disk takes them for one")
    (problem,) = problems_of(job)
    assert (problem.code, problem.remedy) == ("file-unread", "rename one of the two")


# --- Capitals ---


@pytest.mark.parametrize("pair", [("notes/a.md", "notes/A.md"), ("notes/straße.md", "notes/STRASSE.md"), ("x.txt", "X.txt")])
def test_two_names_that_differ_in_capitals_alone_are_warned_of(job: Path, pair: tuple[str, str]) -> None:
    found = [p for p in problems_of(write_job(job, dict.fromkeys(pair, "x"))) if p.code == "name-clash"]
    assert [(p.place.file, str(p.severity)) for p in found] == [(max(pair), "warning")]


NAMED = {
    "photos.csv": "file\nFront.jpg\n",
    "checks.yml": "- {id: a, title: A, kind: readings, file: Rails.csv}\n",
    "measurements/rails.csv": "item,unit,nominal,as_left\n+15 V,V,15,15.02\n",
    "photos/front.jpg": picture(),
    "Marks.csv": "photo,shape,x,y\nfront.jpg,point,1,1\n",
}


def test_capitals_count_alike_on_every_disk(tmp_path: Path, one_for_all: Path) -> None:
    here, there = (problems_of(write_job(folder, NAMED)) for folder in (tmp_path / "job", one_for_all / "job"))
    assert here == there
    assert {(p.code, p.remedy) for p in here} >= {
        ("file-missing", "write photos/front.jpg"), ("file-missing", "write rails.csv"), ("unused-file", "name it marks.csv, if that is what it is"),
    }  # fmt: skip


@pytest.mark.parametrize(("one", "other"), [("Rails", "rails"), ("a b", "a-b"), ("Prüfung", "PRÜFUNG")])
def test_two_checks_whose_readings_would_be_one_file_are_refused(tmp_path: Path, one: str, other: str) -> None:
    rails = "".join(f"- {{id: {name}, title: T, kind: readings, file: rails.csv}}\n" for name in (one, other))
    job = write_job(tmp_path / "job", {"checks.yml": rails, "measurements/rails.csv": NAMED["measurements/rails.csv"]})
    with pytest.raises(Refused, match="two ids, one address"):
        build([job], edition=None, site_dir=tmp_path / "site", kinds=[])


@pytest.mark.slow
@pytest.mark.usefixtures("windows")
def test_names_that_windows_keeps_for_devices_become_others(tmp_path: Path) -> None:
    files = {
        "job.yml": "title: T\nid: con\npublish: yes\nmodules: [{id: aux, title: Aux, boards: [lpt1]}]\n",
        "parts.csv": "board,ref,action\nlpt1,COM1,replaced\n",
        "checks.yml": "- {id: prn, title: P, kind: readings, module: aux, file: rails.csv}\n",
        "measurements/rails.csv": NAMED["measurements/rails.csv"],
        "notes/10-a.md": "[a](check:prn) [b](module:aux) COM1 [c](board:lpt1)\n",
    }
    job = write_job(tmp_path / "job", files)
    with pytest.MonkeyPatch.context() as here:  # a board of this name cannot be made there, but be brought along
        here.setattr(io, "open", PLAIN_OPEN)
        (job / "boards").mkdir()
        (job / "boards/lpt1.csv").write_text("ref,x_mm,y_mm\nCOM1,1,1\n", "utf-8")
    assert built(job, tmp_path / "site")["jobs/con-job/modules/aux_.html"]


@pytest.mark.usefixtures("windows")
def test_a_preview_saves_by_the_rules_of_windows(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job", SMALL_JOB)
    files = Files(job)
    before = contents(job)
    files.save("boards/main.csv", files.version("boards/main.csv"), lambda data: data + b"R9,1,1,,\n", "R9")
    assert (job / "boards/main.csv").read_bytes().endswith(b"R9,1,1,,\n")
    files.undo()
    assert contents(job) == before
