"""``check --edition`` warns where a text that a reader sees tells what is private elsewhere in the folder."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from PIL import ExifTags, Image

from benchrecord.checks import all_kinds, schemas
from benchrecord.intake import read_job
from benchrecord.model.job import Edition
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.rule import Match, SearchTerm
from benchrecord.publish.guarding.search import Search
from benchrecord.publish.telling import MAX_PLACES, occurrences, private_words
from folders import picture, write

PRIVATE: dict[str, str | bytes] = {
    "job.yml": "title: An overhaul\npublish: yes\ncosts: {currency: EUR, hourly_rate: 61.5}\n"
    "instrument: {model: M, serial: VP-0613-K}\n"
    "owner: {name: Zoë Marrenbach, email: zoe@marrenbach.example, phone: +00 555 014 3, address: '7 Sluice Lane, Harrowmere'}\n",
    "parts.csv": "ref,action,now,reason,supplier,order_code,unit_cost\nR1,replaced,10k,worn,Quayside Components,QC-7741-X,3.25\n",
}


def warned(folder: Path, files: dict[str, str | bytes], reader: Edition = Edition.PORTFOLIO) -> list[tuple[object, ...]]:
    """Return the place and the field of each warning."""
    job, _ = read_job(write(folder / "job", {**PRIVATE, **files}), schemas(all_kinds()))
    assert job
    found = private_words(folder / "job", job, reader, Cache(folder / "cache"))
    return [(p.place.file, p.place.line, p.place.column, p.expected.removeprefix("nothing of: ")) for p in found]


def test_a_job_that_keeps_it_to_its_fields_is_warned_of_nothing(tmp_path: Path) -> None:
    assert warned(tmp_path, {"notes/10-a.md": "A quiet day. Three parts, 3 hours, bought new; number 12.\n"}) == []


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ("Zoë Marrenbach", "owner: name"),
        ("zoe  marrenbach", "owner: name"),
        ("ZOË-MARRENBACH", "owner: name"),
        ("Zoe Marren­bach", "owner: name"),
        ("Mr Marrenbach", "owner: name"),
        ("vp 0613 k", "instrument: serial"),
        ("VP0613K", "instrument: serial"),
        ("zoe@marrenbach.example", "owner: email"),
        ("(00) 555-0143", "owner: phone"),
        ("Sluice Lane", "owner: address"),
        ("Quayside", "part: supplier"),
        ("qc 7741 x", "part: order code"),
        ("cost 3.25", "part: unit cost"),
        ("3.25 EUR", "part: unit cost"),
        ("61.50 an hour", "costs: hourly rate"),
    ],
)
def test_each_private_value_is_found_in_each_spelling(tmp_path: Path, said: str, field: str) -> None:
    text = "---\ntitle: Arrival\n---\nFirst line.\n\nThen there was {} in it.\n"
    found = warned(tmp_path, {"notes/10-a.md": text.format(said)})
    assert ("notes/10-a.md", 6, 16, field) in [(f, n, 16 if isinstance(c, int) and c >= 16 else c, w) for f, n, c, w in found]
    assert {w for *_, w in found} <= {field, "owner: name", "owner: email"}  # an address of the net may hold the name


@pytest.mark.parametrize(
    ("files", "where"),
    [
        ({"photos.csv": "file,caption\na.jpg,For Marrenbach\n", "photos/a.jpg": picture()}, ("photos.csv", 2, "caption")),
        ({"faults.csv": "symptom,remedy\n\nhum,asked Marrenbach\n"}, ("faults.csv", 3, "remedy")),
        ({"marks.csv": "photo,shape,x,y,text\na.jpg,point,1,1,Marrenbach\n", "photos/a.jpg": picture()}, ("marks.csv", 2, "text")),
        ({"measurements/a.csv": "item,as_found\nMarrenbach,1\n", "checks.yml": "- {id: a, title: A, kind: readings, file: a.csv}\n"}, ("measurements/a.csv", 2, "item")),
        ({"checks.yml": "- {id: a, title: A, kind: date-codes}\n- {id: b, title: B, kind: date-codes, note: Marrenbach}\n"}, ("checks.yml", 2, 45)),
    ],
)  # fmt: skip
def test_captions_remedies_marks_tables_and_checks_are_read_too(
    tmp_path: Path, files: dict[str, str | bytes], where: tuple[object, ...]
) -> None:
    assert [(*where, "owner: name")] == warned(tmp_path, files)


NOTE = "---\n# for me\ntitle: {title}\n---\n\n"


@pytest.mark.parametrize(
    ("name", "text", "where"),
    [
        ("notes/10-a.md", "Ä <!-- Marrenbach --> b, Marrenbach\n", (1, 26)),
        ("notes/10-a.md", "<!-- one\ntwo --> x Marrenbach\n", (2, 11)),
        ("notes/10-a.md", "\ufeff---\r\ntitle: A\r\n---\r\nfor [the Marrenbach](note:a) \r\n", (4, 10)),
        ("notes/10-a.md", NOTE.format(title="For 'Marrenbach' # Marrenbach"), (3, 13)),
        ("notes/10-a.md", NOTE.format(title='"For \\"the\\" Marrenbach"'), (3, 21)),
        ("notes/10-a.md", "Words.\n\n#  For Marrenbach #\n", (3, 8)),
        ("checks.yml", "# Marrenbach\n- id: a\n  title: Marrenbach  # or\n  kind: date-codes\n", (3, 10)),
        ("checks.yml", "- {id: a, kind: date-codes, title: 'It''s Marrenbach''s'}\n", (1, 43)),
        ("checks.yml", "- id: a\n  kind: date-codes\n  title: A\n  note: >\n    long words\n    of Marrenbach\n", (6, 8)),
        ("job.yml", str(PRIVATE["job.yml"]) + "summary: |\n  It is\n  Marrenbach's\n", (8, 3)),
        ("job.yml", str(PRIVATE["job.yml"]).replace("model: M", 'model: "Ö Marrenbach"'), (4, 24)),
        ("faults.csv", '# Marrenbach\nremedy;symptom\n# more\n"none; yet";"a\n\nhum, Marrenbach"\n', (6, "symptom")),
        ("faults.csv", 'sep=,\nsymptom,remedy,cause\nhum,"two\nlines",Marrenbach\n', (4, "cause")),
        ("faults.csv", 'symptom\tremedy\r\n"a ""hum"""\t Marrenbach \r\n', (2, "remedy")),
    ],
)  # fmt: skip
def test_line_and_column_are_the_user_s_own(tmp_path: Path, name: str, text: str, where: tuple[object, ...]) -> None:
    assert [(name, *where, "owner: name")] == [w for w in warned(tmp_path, {name: text}) if w[0] == name]


@pytest.mark.parametrize("times", [2, 7, 40])
@pytest.mark.parametrize(
    ("value", "field"),
    [
        ("Zoë Marrenbach", "owner: name"),
        ("zoe@marrenbach.example", "owner: email"),
        ("(00) 555-0143", "owner: phone"),
        ("7 Sluice Lane, Harrowmere", "owner: address"),
        ("VP-0613-K", "instrument: serial"),
        ("3.25 EUR", "part: unit cost"),
        ("Quayside Components", "part: supplier"),
    ],
)
@pytest.mark.parametrize("between", ["\n\nThen {} came up.", " and {} is there", ", see {}.\n\n* Next to it"])
def test_each_place_of_a_text_is_shown_and_each_once(tmp_path: Path, value: str, field: str, between: str, times: int) -> None:
    text = "First" + between.format(value) * times + "\n"
    starts = [m.start() for m in re.finditer(re.escape(value), text)]
    found = [(n, c) for _, n, c, w in warned(tmp_path, {"notes/10-a.md": text}) if w == field]
    expected = [(text.count("\n", 0, s) + 1, s - text.rfind("\n", 0, s)) for s in starts]
    assert len(found) == times
    within = 2 if field == "owner: address" else 1  # its street
    assert all(n == m and 0 <= column - c <= within for (n, column), (m, c) in zip(found, expected, strict=True))


def test_a_long_text_full_of_it_shows_many_places_in_a_bounded_time() -> None:
    search = Search([SearchTerm("owner: name", "Marrenbach", Match.WORD)])
    assert len(occurrences(search, "For Marrenbach, then on.\n\n" * 15_000)) >= MAX_PLACES
    (last,) = occurrences(search, "A long text of nothing much.\n\n" * 15_000 + "Marrenbach")
    assert last.start == 15_000 * 30


def test_two_fields_in_one_line_are_two_places(tmp_path: Path) -> None:
    text = "Marrenbach, Sluice Lane, Marrenbach, Sluice Lane\n"
    assert sorted((c, w) for _, _, c, w in warned(tmp_path, {"notes/10-a.md": text})) == [
        (1, "owner: name"),
        (13, "owner: address"),
        (26, "owner: name"),
        (38, "owner: address"),
    ]


def test_the_owner_may_read_their_own_name_and_not_the_rate(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {"notes/10-a.md": "For Zoë Marrenbach, 61.5 an hour, by Quayside.\n"}
    assert {w for *_, w in warned(tmp_path, files, Edition.OWNER)} == {"costs: hourly rate", "part: supplier"}


def test_what_a_reader_is_not_shown_is_not_warned_of(tmp_path: Path) -> None:
    assert warned(tmp_path, {"notes/10-a.md": "---\nedition: owner\n---\nMarrenbach\n"}) == []


def test_the_place_that_a_picture_tells_is_private(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.GPSInfo).update({1: "N", 2: (51.0, 30.0, 5.5), 3: "W", 4: (0.0, 7.0, 27.0)})
    path = tmp_path / "job/photos/a.jpg"
    path.parent.mkdir(parents=True)
    Image.new("RGB", (64, 48)).save(path, exif=exif)
    note = "Fetched at 51.5015, -0.1241 that day; or 51°30′5.5″ N 0°07′27″ W.\n"
    assert [w for *_, w in warned(tmp_path, {"notes/10-a.md": note})] == ["place of a picture"]
