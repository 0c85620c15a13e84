"""Handing a record over: one thing that is whole, has what the owner may have, and is the same whenever it is made."""

from __future__ import annotations

import errno
import io
import json
import logging
import os
import re
import shlex
import tempfile
from pathlib import Path

import bagit
import pytest
import soundfile
from click.testing import CliRunner, Result
from PIL import Image

from benchrecord.cli import main
from benchrecord.editions.table import SUPPLIER, Personal
from benchrecord.editions.traces import Trace
from benchrecord.publish import hand_over as handing
from benchrecord.publish.guarding.rule import search_terms
from benchrecord.publish.guarding.vocabulary import Vocabulary
from benchrecord.publish.hand_over import Refused, Wish, hand_over
from benchrecord.record import writing
from benchrecord.record.installing import install_pango
from benchrecord.record.verify import verify
from folders import contents, picture, sound
from folders import write as write_job
from keys import KEY, PUBLIC, private
from once import once
from pictures import corners, encoded
from small_jobs import SMALL_JOB, printed


@pytest.fixture
def small_job(tmp_path: Path) -> Path:
    return write_job(tmp_path / "small-job", SMALL_JOB)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Hand the small job over once, for tests that only look at its record."""
    make = lambda here: handed(write_job(here / "small-job", SMALL_JOB), here / "stick")  # noqa: E731  # one line
    return once(tmp_path_factory, "small-record", make) / "stick/small-job-record"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def handed(job: Path, to: Path, **wish: object) -> Path:
    return hand_over(job, Wish(to, **{"with_pdf": False, **wish}))  # type: ignore[arg-type]  # what the test asks for


def lossy(form: str) -> bytes:
    """Return a tone of a second, coded with losses."""
    tone, rate = soundfile.read(io.BytesIO(sound(1.0)))
    out = io.BytesIO()
    soundfile.write(out, tone, rate, format=form)
    return out.getvalue()


def test_a_record_is_a_valid_bag_with_site_data_and_originals(record: Path) -> None:
    logging.getLogger("bagit").setLevel(logging.CRITICAL)
    assert bagit.Bag(str(record)).validate()
    assert verify(record).faults == ()
    files = set(contents(record))
    assert files >= {
        "README.txt", "data/site/index.html", "data/site/jobs/small-job/index.html", "data/dataset/datapackage.json", "data/dataset/object.jsonld",
        "data/dataset/marks.jsonld", "data/photographs/front-before.jpg", "data/photographs/inside.png", "data/recordings/hum.wav", "data/documents/letter.pdf",
    }  # fmt: skip


def test_it_says_whose_it_is_and_who_made_it_with_what(record: Path) -> None:
    info = verify(record).info
    assert info["Source-Organization"] == "Corvin Hathersedge"
    assert (info["Internal-Sender-Identifier"], info["Bagging-Date"]) == ("small-job", "2026-04-18")
    assert info["Bag-Software-Agent"].startswith("benchrecord ")


def test_nothing_that_is_not_the_owner_s_is_in_it(record: Path) -> None:
    whole = b"".join(contents(record).values())
    for hidden in (b"Quayside", b"Not for the owner", b"20-secret", b"of others", b"hourly_rate"):
        assert hidden not in whole
    assert b"Ottilie Marrenbach" in whole


def test_the_job_folder_is_never_written_to(small_job: Path, tmp_path: Path) -> None:
    before = {p: (p.stat().st_mtime_ns, p.is_file() and p.read_bytes()) for p in small_job.rglob("*")}
    handed(small_job, tmp_path / "stick")
    assert {p: (p.stat().st_mtime_ns, p.is_file() and p.read_bytes()) for p in small_job.rglob("*")} == before


def test_two_records_of_one_folder_are_the_same(small_job: Path, tmp_path: Path) -> None:
    one, two = (handed(small_job, tmp_path / name, zipped=True).read_bytes() for name in ("a", "b"))
    assert one == two


def test_a_record_is_never_written_over(small_job: Path, tmp_path: Path) -> None:
    made = handed(small_job, tmp_path / "stick")
    before = contents(made)
    with pytest.raises(Refused, match="is there already"):
        handed(small_job, tmp_path / "stick")
    assert contents(made) == before


def test_a_later_record_names_the_former_and_both_are_whole(small_job: Path, tmp_path: Path) -> None:
    first = handed(small_job, tmp_path / "stick")
    write_job(
        small_job,
        {
            "job.yml": str(SMALL_JOB["job.yml"]),
            "notes/30-service.md": "---\ntitle: Service\ndate: 2031-04-02\n---\nLooked after.\n",
        },
    )
    second = handed(small_job, tmp_path / "stick", follows=first, zipped=True)
    assert second.name == "small-job-record-2.zip"
    found = verify(second)
    assert (found.faults, verify(first).faults) == ((), ())
    assert (found.info["Former-Record"], found.info["Bag-Count"]) == ("small-job-record", "2 of ?")
    third = handed(small_job, tmp_path / "stick", follows=second)
    assert verify(third).info["Bag-Count"] == "3 of ?"


def test_a_former_record_that_is_not_whole_is_not_followed(small_job: Path, tmp_path: Path) -> None:
    first = handed(small_job, tmp_path / "stick")
    (first / "data/documents/letter.pdf").write_bytes(b"forged")
    with pytest.raises(Refused, match=r"letter\.pdf: changed"):
        handed(small_job, tmp_path / "stick", follows=first)


def test_marks_lie_on_the_originals_that_are_beside_them(record: Path) -> None:
    page = json.loads((record / "data/dataset/marks.jsonld").read_text("utf-8"))
    source = page["items"][0]["target"]["source"]["id"]
    assert (record / "data/dataset" / source).resolve() == (record / "data/photographs/front-before.jpg").resolve()


def test_names_that_a_stick_refuses_and_forms_that_cannot_be_bared_are_seen_to(small_job: Path, tmp_path: Path) -> None:
    recordings = {f"recordings/tone.{ending}": lossy(form) for ending, form in (("ogg", "OGG"), ("mp3", "MP3"))}
    write_job(
        small_job,
        {
            "job.yml": str(SMALL_JOB["job.yml"]),
            "photos/what: now?.jpg": picture(),
            "photos/scan.tif": encoded(corners(), "TIFF"),
            "photos/telephone.heic": encoded(corners(), "HEIF"),
            "photos/copy.tif": encoded(corners(), "TIFF", tiffinfo={254: 1}),
            **recordings,
        },
    )
    made = handed(small_job, tmp_path / "stick")
    assert (made / "data/photographs/what_ now_.jpg").is_file()
    handed_over = set(contents(made))
    assert handed_over >= {
        "data/photographs/scan.tif",
        "data/photographs/telephone.heic",
        *(f"data/{name}" for name in recordings),
    }
    assert "data/photographs/copy.tif" not in handed_over
    assert "photos/copy.tif" in (made / "README.txt").read_text("utf-8")


def test_the_owner_s_own_picture_keeps_its_place_only_where_the_job_says_so(small_job: Path, tmp_path: Path) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 5.5)
    exif[0x013B] = "Zebulon Quarrenden"
    own: dict[str, str | bytes] = {
        f"photos/attic.{ending}": encoded(corners(), form, exif=exif.tobytes())
        for ending, form in (("jpg", "JPEG"), ("heic", "HEIF"), ("tif", "TIFF"))
    }
    table = "file,caption,taken_by\n" + "".join(f"{file},In the attic,owner\n" for file in own)
    for number, more in enumerate(("", "hand_over: {photo_location: yes}\n")):
        write_job(small_job, {**own, "photos.csv": table, "job.yml": f"{SMALL_JOB['job.yml']}{more}"})
        made = handed(small_job, tmp_path / f"stick-{number}")
        for file, original in own.items():
            content = (made / "data/photographs" / Path(file).name).read_bytes()
            with Image.open(io.BytesIO(content)) as image:
                assert image.getexif()[0x013B] == "Zebulon Quarrenden"
                assert bool(image.getexif().get_ifd(0x8825)) is bool(more)
            assert (content == original) is bool(more)


def test_a_signed_record_with_its_pdf(small_job: Path, tmp_path: Path) -> None:
    (tmp_path / "key").write_bytes(private(KEY))
    done = run("hand-over", small_job, "--to", tmp_path / "stick", "--sign", tmp_path / "key")
    assert done.exit_code == 0, done.output
    made = tmp_path / "stick/small-job-record"
    assert (made / "data/record.pdf").read_bytes().startswith(b"%PDF-1.7")
    assert "data/record.pdf" in (made / "README.txt").read_text("utf-8")
    (tmp_path / "bench.pub").write_text(f"{PUBLIC} Corvin\n")
    assert "Signed by Corvin" in run("verify", made, "--signers", tmp_path / "bench.pub").output


def test_a_key_that_cannot_sign_is_told_before_anything_is_made(small_job: Path, tmp_path: Path) -> None:
    (tmp_path / "key").write_text("no key")
    done = run("hand-over", small_job, "--to", tmp_path / "stick", "--sign", tmp_path / "key")
    assert (done.exit_code, "The key cannot be read" in done.output) == (1, True)
    assert not (tmp_path / "stick").exists()


def test_a_key_with_a_passphrase_is_asked_for_it(small_job: Path, tmp_path: Path) -> None:
    (tmp_path / "key").write_bytes(private(KEY, b"open"))
    words = [str(w) for w in ("hand-over", small_job, "--to", tmp_path / "stick", "--sign", tmp_path / "key", "--no-pdf")]
    assert CliRunner().invoke(main, words, input="wrong\n").exit_code == 1
    assert CliRunner().invoke(main, words, input="open\n").exit_code == 0


def test_without_the_libraries_of_the_pdf_it_says_what_to_install(
    small_job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken/weasyprint.py").write_text("raise OSError('cannot load library libpango')\n")
    monkeypatch.syspath_prepend(tmp_path / "broken")  # the process that prints looks there too
    told = run("hand-over", small_job, "--to", tmp_path / "stick")
    assert told.exit_code == 1
    assert install_pango() in told.output
    without = told.output.split("Or hand over without the PDF:")[1].strip()
    assert run(*shlex.split(without)[1:]).exit_code == 0


def test_a_record_for_a_folder_within_a_job_is_refused_with_the_command_that_works(
    small_job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(tmp_path)
    monkeypatch.chdir(small_job / "notes")
    told = run("hand-over", "..", "--no-pdf", "--form", "zip")
    assert (told.exit_code, contents(tmp_path)) == (1, before)
    command = shlex.split(told.output.split("\n\n")[1])
    assert command == ["benchrecord", "hand-over", "..", "--to", str(tmp_path), "--form", "zip", "--no-pdf"]
    assert run(*command[1:]).exit_code == 0
    assert {name: content for name, content in contents(tmp_path).items() if name in before} == before


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("letter.pdf", printed("Bought at Quayside Components")),
        ("letter.pdf", b"Bought at Quayside Components"),
        ("bill.csv", b"a,b\nQuayside components,1\n"),
    ],
)
def test_a_document_that_tells_what_its_owner_must_not_see_is_not_passed_on(tmp_path: Path, name: str, content: bytes) -> None:
    documents = {f"documents/{name}": content, "documents.csv": f"file,title,kind,edition\n{name},Letter,letter,owner\n"}
    job = write_job(tmp_path / "small-job", {k: v for k, v in SMALL_JOB.items() if "documents" not in k} | documents)
    with pytest.raises(Refused, match=rf"data/documents/{name}\S*: byte \d+ tells part: supplier") as refused:
        handed(job, tmp_path / "stick")
    assert "Quayside" not in str(refused.value)
    assert not (tmp_path / "stick").exists()


def test_a_word_of_others_that_a_text_left_out_has_too_tells_nothing() -> None:
    left_out = [
        Trace("note: body", "It was stripped quietly of its varnish that day"),
        Trace("part: supplier", "Varnish", Personal.NAME, SUPPLIER),
    ]
    found = search_terms(left_out, Vocabulary())
    assert {(s.field, s.value) for s in found if s.is_distinctive} >= {("part: supplier", "Varnish")}
    assert all(len(s.value.split()) == 6 for s in found if s.is_distinctive and s.field == "note: body")


def test_a_record_that_tells_what_its_owner_must_not_see_is_refused(
    small_job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(handing, "linked_data", lambda _: b'{"bought": "Quayside Components"}')
    with pytest.raises(Refused, match=r"data/dataset/object\.jsonld: byte \d+ tells part: supplier") as refused:
        handed(small_job, tmp_path / "stick")
    assert "Quayside" not in str(refused.value)
    assert not (tmp_path / "stick").exists()


def test_the_command_says_where_it_lies_and_what_stops_it(small_job: Path, tmp_path: Path) -> None:
    done = run("hand-over", small_job, "--to", tmp_path / "stick", "--form", "zip", "--no-pdf")
    assert (done.exit_code, done.output) == (
        0,
        f"Handed over, and read back whole: {tmp_path / 'stick/small-job-record.zip'}\n",
    )
    assert run("verify", tmp_path / "stick/small-job-record.zip").exit_code == 0
    assert run("hand-over", small_job, "--to", tmp_path / "stick", "--form", "zip", "--no-pdf").exit_code == 1
    write_job(small_job, {"job.yml": "titel: x\n"})
    stopped = run("hand-over", small_job, "--to", tmp_path / "other")
    assert stopped.exit_code == 1
    assert "write title" in stopped.output
    assert not (tmp_path / "other").exists()
    assert run("hand-over").exit_code == 2


@pytest.mark.parametrize(
    ("to", "said"),
    [
        ("a-file", "is a file, and a record goes into a folder"),
        ("a-file/deeper", "is a file, and a record goes into a folder"),
        ("x" * 300, "cannot be a folder: File name too long"),
        ("small-job", "is in the job folder"),
        ("small-job/new/deeper", "is in the job folder"),
    ],
)
def test_a_place_that_no_record_can_go_to_is_told_in_a_sentence(small_job: Path, tmp_path: Path, to: str, said: str) -> None:
    (tmp_path / "a-file").write_text("a file")
    before = contents(tmp_path)
    with pytest.raises(Refused, match=said):
        handed(small_job, tmp_path / to)
    assert contents(tmp_path) == before


def test_a_medium_that_cannot_be_written_is_told_before_any_work(
    small_job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)  # as a medium answers that is read-only
    with pytest.raises(Refused, match=f"Nothing can be written to {tmp_path}"):
        handed(small_job, tmp_path / "stick")


def test_where_room_runs_out_nothing_is_left_and_the_right_folder_is_named(
    small_job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (tmp_path / "room").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "room"))
    monkeypatch.setattr(handing, "originals", full)
    with pytest.raises(Refused, match=re.escape(f"The record was not made: the disk is full ({tmp_path / 'room'})")):
        handed(small_job, tmp_path / "stick")
    monkeypatch.undo()
    monkeypatch.setattr(writing, "_write_folder", full)
    for stick, named in ((tmp_path / "new/stick", tmp_path), (tmp_path / "stick", tmp_path / "stick")):
        (tmp_path / "stick").mkdir(exist_ok=True)
        with pytest.raises(Refused, match=re.escape(f"small-job-record cannot be written: the disk is full ({named})")):
            handed(small_job, stick)
    assert contents(tmp_path / "stick") == {}
    assert not (tmp_path / "new").exists()


def test_recordings_lie_beside_with_their_samples(record: Path) -> None:
    assert (record / "data/recordings/hum.wav").read_bytes() == sound()
