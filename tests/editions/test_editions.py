"""Who may see what: nothing that a reader may not see is anywhere in the job that the reader's pages are made of."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchrecord.checks import all_kinds, schemas
from benchrecord.editions import for_reader, may_see, published
from benchrecord.findings import as_json, work_out
from benchrecord.intake import read_job
from benchrecord.model.job import Edition, Job
from folders import picture, sound, write

PRIVATE = ("SERIAL-1", "Ottilie", "ottilie@", "0143", "Sluice")
TRADE = ("3.25", "Quayside", "QC-77", "55.0", "8.75", "4.125", "shelf-9", "schematic.pdf")
NARROWED = {
    Edition.OWNER: (
        "owner note",
        "owner-check",
        "photos/owner.jpg",
        "photos/board-owner.jpg",
        "mark for the owner",
        "owner.pdf",
    ),
    Edition.ARCHIVE: ("archive note", "archive-check", "photos/archive.jpg", "archive.pdf"),
}
FILES: dict[str, str | bytes] = {
    "job.yml": "title: T\npublish: yes\ncover: owner.jpg\ncosts: {currency: EUR, hourly_rate: 55.0}\n"
    "instrument: {model: M, serial: SERIAL-1}\n"
    "owner: {name: Ottilie, email: ottilie@marrenbach.example, phone: +00 555 0143, address: 7 Sluice Lane}\n",
    "notes/1.md": "---\nhours: 8.75\n---\nfor all\n",
    "notes/2.md": "---\nedition: owner\n---\nowner note\n",
    "notes/3.md": "---\nedition: archive\n---\narchive note\n",
    "parts.csv": "ref,action,unit_cost,supplier,order_code,note\nR1,replaced,3.25,Quayside,QC-77,shelf-9\nR2,added,4.5,Quayside,,\n",
    "faults.csv": "symptom,hours\nhum,4.125\n",
    "photos.csv": "file,edition\nall.jpg,\nowner.jpg,owner\narchive.jpg,archive\nboard-owner.jpg,owner\n",
    "photos/all.jpg": picture(),
    "photos/owner.jpg": picture(),
    "photos/archive.jpg": picture(),
    "photos/board-owner.jpg": picture(),
    "marks.csv": "photo,shape,x,y,text\nowner.jpg,point,1,1,mark for the owner\nall.jpg,point,1,1,mark for all\n",
    "boards/b.yml": "photos: [{file: board-owner.jpg}]\n",
    "checks.yml": "- {id: all-check, title: A, kind: readings, file: a.csv}\n"
    "- {id: owner-check, title: B, kind: readings, file: a.csv, edition: owner}\n"
    "- {id: archive-check, title: C, kind: readings, file: a.csv, edition: archive}\n",
    "measurements/a.csv": "item,as_found\na,1\n",
    "documents/schematic.pdf": b"x",
    "documents/owner.pdf": b"x",
    "documents/archive.pdf": b"x",
    "documents.csv": "file,edition\nowner.pdf,owner\narchive.pdf,archive\n",
}


@pytest.fixture
def whole(tmp_path: Path) -> Job:
    job, problems = read_job(write(tmp_path / "job", FILES), schemas(all_kinds()))
    assert problems == ()
    assert job
    return job


def words_in(job: Job, words: tuple[str, ...]) -> list[str]:
    """Return those of the words that stand anywhere in a job."""
    return [w for w in words if w in repr(job)]


def test_the_whole_job_holds_all_of_it(whole: Job) -> None:
    everything = (*PRIVATE, *TRADE, *NARROWED[Edition.OWNER], *NARROWED[Edition.ARCHIVE])
    assert words_in(whole, everything) == list(everything)


def test_the_archive_is_the_whole_job(whole: Job) -> None:
    assert for_reader(whole, Edition.ARCHIVE) == whole


def test_the_owner_sees_their_own_and_no_matters_of_the_trade(whole: Job) -> None:
    seen = for_reader(whole, Edition.OWNER)
    assert words_in(seen, (*TRADE, *NARROWED[Edition.ARCHIVE])) == []
    assert words_in(seen, (*PRIVATE, *NARROWED[Edition.OWNER])) == [*PRIVATE, *NARROWED[Edition.OWNER]]


def test_anyone_sees_what_is_for_everyone_and_nothing_else(whole: Job) -> None:
    seen = for_reader(whole, Edition.PORTFOLIO)
    assert words_in(seen, (*PRIVATE, *TRADE, *NARROWED[Edition.OWNER], *NARROWED[Edition.ARCHIVE])) == []
    assert words_in(seen, ("for all", "all-check", "photos/all.jpg", "mark for all")) != []


def test_a_cover_that_may_not_be_seen_is_no_cover(whole: Job) -> None:
    assert whole.cover == "photos/owner.jpg"
    assert for_reader(whole, Edition.PORTFOLIO).cover == ""
    assert for_reader(whole, Edition.OWNER).cover == "photos/owner.jpg"


def test_only_jobs_marked_for_it_are_in_the_portfolio(tmp_path: Path, whole: Job) -> None:
    private, _ = read_job(write(tmp_path / "private", {"job.yml": "title: P\n"}), {})
    assert private
    assert published([whole, private], Edition.PORTFOLIO) == (whole,)
    assert published([whole, private], Edition.OWNER) == (whole, private)


@pytest.mark.parametrize("least", [None, *Edition])
def test_who_sees_more_sees_all_that_others_see(least: Edition | None) -> None:
    seen = [may_see(reader, least) for reader in (Edition.PORTFOLIO, Edition.OWNER, Edition.ARCHIVE)]
    assert seen == sorted(seen)
    assert seen[-1]


REFERRING: dict[str, str | bytes] = {
    "checks.yml": "- {id: open-check, title: A, kind: tracking, file: a.csv, tracks_with: hidden-check}\n"
    "- {id: hidden-check, title: B, kind: tracking, file: a.csv, edition: archive, as_left: recordings/hidden-check.wav}\n"
    "- {id: heard, title: C, kind: spectrum, as_left: recordings/both.wav}\n"
    "- {id: hidden-too, title: D, kind: spectrum, as_left: recordings/both.wav, edition: archive}\n",
    "measurements/a.csv": "volts,as_left_hz\n0,110\n1,220\n",
    "recordings/hidden-check.wav": sound(),
    "recordings/both.wav": sound(),
    "recordings/alone.wav": sound(),
    "trims.csv": "ref,check\nRV1,hidden-check\nRV2,open-check\n",
}


def test_an_unseen_check_leaves_no_trace_in_what_names_it(tmp_path: Path) -> None:
    job, _ = read_job(write(tmp_path, REFERRING), schemas(all_kinds()))
    assert job
    seen = for_reader(job, Edition.PORTFOLIO)
    assert "hidden" not in repr(seen)
    assert [t.check for t in seen.trims] == ["", "open-check"]
    assert {r.file for r in seen.recordings} == {"recordings/both.wav"}
    assert {r.file for r in for_reader(job, Edition.OWNER).recordings} == {"recordings/both.wav", "recordings/alone.wav"}
    assert for_reader(job, Edition.ARCHIVE) == job


USING = {
    "a check": ("checks.yml", "- {id: a, title: A, kind: spectrum, as_found: NAME}\n"),
    "a setting": ("checks.yml", "- {id: a, title: A, kind: spectrum, control: knob, settings: [{at: 1, as_left: NAME}]}\n"),
    "what went in": ("checks.yml", "- {id: a, title: A, kind: response, as_left: other.wav, reference: NAME}\n"),
    "a patch": ("patches.yml", "- {id: a, title: A, recording: NAME}\n"),
    "a link": ("notes/1.md", "Listen to [it](recording:NAME).\n"),
    "a link by name": ("notes/1.md", "Listen to [it][there].\n\n[there]: recording:NAME\n"),
    "a comment": ("notes/1.md", "Said <!-- [it](recording:NAME) --> once.\n"),
    "a note of the archive": ("notes/1.md", "---\nedition: archive\n---\nListen to [it](recording:NAME).\n"),
    "a check of the archive": ("checks.yml", "- {id: a, title: A, kind: spectrum, as_found: NAME, edition: archive}\n"),
    "nothing": ("notes/1.md", "Nothing.\n"),
}


@pytest.mark.parametrize("used_by", USING)
@pytest.mark.parametrize("name", ["call-with-mr-lang.wav", "R1.wav"])
def test_a_recording_is_listed_for_everyone_only_where_something_they_see_uses_it(
    tmp_path: Path, used_by: str, name: str
) -> None:
    file, text = USING[used_by]
    files: dict[str, str | bytes] = {
        file: text.replace("NAME", name),
        f"recordings/{name}": sound(),
        "recordings/other.wav": sound(),
    }
    job, _ = read_job(write(tmp_path, files), schemas(all_kinds()))
    assert job
    listed = {e: f"recordings/{name}" in {r.file for r in for_reader(job, e).recordings} for e in Edition}
    seen_by_all = used_by not in ("a comment", "a note of the archive", "a check of the archive", "nothing")
    assert listed == {Edition.PORTFOLIO: seen_by_all, Edition.OWNER: "archive" not in used_by, Edition.ARCHIVE: True}
    assert seen_by_all or name not in repr(for_reader(job, Edition.PORTFOLIO))


@pytest.mark.parametrize(("hidden", "left"), [("first.jpg", []), ("second.jpg", ["photos/first.jpg"])])
def test_a_board_in_percent_of_an_unseen_picture_is_pinned_on_no_other(tmp_path: Path, hidden: str, left: list[str]) -> None:
    files: dict[str, str | bytes] = {
        "boards/b.yml": "frame: percent\nphotos: [{file: first.jpg}, {file: second.jpg}]\n",
        "boards/b.csv": "ref,x,y\nR1,10,10\n",
        "photos.csv": f"file,edition\n{hidden},archive\n",
        "photos/first.jpg": picture(),
        "photos/second.jpg": picture(),
    }
    job, _ = read_job(write(tmp_path, files), schemas(all_kinds()))
    assert job
    (board,) = for_reader(job, Edition.PORTFOLIO).boards
    assert [p.file for p in board.photos] == left
    assert [p.file for p in for_reader(job, Edition.ARCHIVE).boards[0].photos] == ["photos/first.jpg", "photos/second.jpg"]


def test_what_an_edition_leaves_out_is_not_in_the_findings_either(whole: Job) -> None:
    """The whole way: the findings are worked out of what the reader may see."""
    kinds = all_kinds()
    told = {e: repr(as_json(work_out(for_reader(whole, e), kinds), with_cost=e is not Edition.PORTFOLIO)) for e in Edition}
    assert ["'cost': 7.75" in t for t in told.values()] == [False, True, True]
    assert not any("3.25" in t for t in told.values())
    assert ["archive-check" in t for t in told.values()] == [False, False, True]
    assert ["owner-check" in t for t in told.values()] == [False, True, True]


def test_narrowing_twice_is_narrowing_once(whole: Job) -> None:
    for edition in Edition:
        seen = for_reader(whole, edition)
        assert for_reader(seen, edition) == seen
    assert for_reader(for_reader(whole, Edition.OWNER), Edition.PORTFOLIO) == for_reader(whole, Edition.PORTFOLIO)
    assert for_reader(for_reader(whole, Edition.PORTFOLIO), Edition.ARCHIVE) == for_reader(whole, Edition.PORTFOLIO)


POINTING: dict[str, str | bytes] = {
    "notes/10-open.md": "See [that day](note:20-hidden) and [this](note:30-later), ![a picture](photo:hidden.jpg) [shut](check:hidden-check).\n"
    "By name: [a day][day], ![a view][view], [later][l], [day].\n\n[day]: note:20-hidden\n[view]: photo:hidden.jpg\n[l]: note:30-later\n",
    "notes/20-hidden.md": "---\nedition: archive\n---\nx\n",
    "notes/30-later.md": "y\n",
    "photos.csv": "file,edition\nhidden.jpg,archive\n",
    "photos/hidden.jpg": picture(),
    "checks.yml": "- {id: hidden-check, title: C, kind: readings, file: a.csv, edition: archive, meter: only-there}\n"
    "- {id: seen, title: S, kind: readings, file: a.csv, meter: both}\n",
    "measurements/a.csv": "item,as_found\na,1\n",
    "job.yml": "title: T\npublish: yes\nmeters: [{id: only-there, title: A}, {id: both, title: B}, {id: idle, title: C}]\n",
}


def test_links_to_what_is_left_out_are_plain_words_and_its_name_is_nowhere(tmp_path: Path) -> None:
    job, problems = read_job(write(tmp_path, POINTING), schemas(all_kinds()))
    assert job
    assert not [p for p in problems if p.severity != "hint"]
    seen = for_reader(job, Edition.PORTFOLIO)
    assert seen.notes[0].body.splitlines()[:2] == [
        "See that day and [this](note:30-later),  shut.",
        "By name: a day, , [later][l], day.",
    ]
    assert seen.notes[0].body.count("\n") == job.notes[0].body.count("\n")
    assert "hidden" not in repr(seen)


def test_a_meter_that_only_an_unseen_check_used_is_left_out_with_it(tmp_path: Path) -> None:
    job, _ = read_job(write(tmp_path, POINTING), schemas(all_kinds()))
    assert job
    assert [m.id for m in for_reader(job, Edition.PORTFOLIO).meters] == ["both", "idle"]


def test_addresses_of_notes_tell_of_no_gap(tmp_path: Path) -> None:
    names = ("10-a", "20-hidden", "30-b", "31-b", "69a-c", "7", "8-hidden", "9")
    files: dict[str, str | bytes] = {f"notes/{n}.md": "---\nedition: archive\n---\n" if "hidden" in n else "x" for n in names}
    job, _ = read_job(write(tmp_path, files), {})
    assert job
    assert [n.address for n in for_reader(job, Edition.PORTFOLIO).notes] == ["a", "b", "b-3", "c", "note-5", "note-6"]
    assert {n.address for n in for_reader(job, Edition.ARCHIVE).notes} == {""}
