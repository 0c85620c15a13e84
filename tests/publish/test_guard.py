"""The guard refuses dead links, requests to other hosts and leftovers of our own markup."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from PIL import ExifTags, Image

from benchrecord.model.findings import DataTable, Value
from benchrecord.pages.job_pages import data_csv
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.markup import read, scripts_of
from benchrecord.publish.guarding.private import Private
from benchrecord.publish.guarding.rule import Match, SearchTerm
from benchrecord.publish.guarding.site import complaints
from benchrecord.publish.guarding.spreadsheets import formulas


def site(folder: Path, body: str, **more: str) -> list[str]:
    """Return what the guard says of a page, without the part that says where."""
    (folder / "a").mkdir()
    (folder / "a" / "page.html").write_text(f"<html><body>{body}</body></html>", "utf-8")
    (folder / "a" / "other.html").write_text('<p id="here">x</p>', "utf-8")
    for name, text in more.items():
        (folder / name.replace("_", ".")).write_text(text, "utf-8")
    found = list(complaints(folder))
    cache = Cache(folder.with_name(f"{folder.name}-cache"))
    for _ in range(2):  # read now, and as it was kept
        assert list(complaints(folder, cache=cache)) == found
    return found


@pytest.mark.parametrize(
    "body",
    [
        '<a href="other.html">x</a>',
        '<a href="other.html#here">x</a>',
        '<a href="#own">x</a><i id="own"></i>',
        '<a href="../a/other.html">x</a>',
        '<a href="https://example.org/">a link to elsewhere is no request</a>',
        '<a href="mailto:a@b.example">x</a>',
        '<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">',
        "<p>{{ braces }} and br:/ in words, board:psu too</p>",
        "<!-- a comment -->",
        '<link rel="canonical" href="https://example.org/">',
        '<svg><a href="#pin"><text>R1</text></a><g id="pin"></g></svg>',
    ],
)
def test_what_is_well_passes(tmp_path: Path, body: str) -> None:
    assert site(tmp_path, body) == []


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ('<a href="gone.html">x</a>', "a dead link: gone.html"),
        ('<a href="other.html#gone">x</a>', "other.html#gone has no such place"),
        ('<a href="#gone">x</a>', "#gone has no such place"),
        ('<a href="../../outside.html">x</a>', "a dead link"),
        ('<img src="gone.jpg">', "a dead link: gone.jpg"),
        ('<img srcset="other.html 1x, gone.webp 2x">', "a dead link: gone.webp"),
        ('<img src="https://example.org/x.png">', "a request to another host: https://example.org/x.png"),
        ('<script src="//example.org/x.js"></script>', "a request to another host"),
        ('<link rel="stylesheet" href="https://example.org/x.css">', "a request to another host"),
        ('<link rel="preconnect" href="https://example.org">', "a request to another host"),
        ('<video src="http://example.org/x.mp4"></video>', "a request to another host"),
        ('<a href="br:/jobs/x/index.md">x</a>', "leftover markup"),
        ('<a href="check:rails">x</a>', "leftover markup"),
        ("<!-- jobs -->", "leftover markup: <!-- jobs -->"),
    ],
)
def test_what_must_not_leave_is_refused_with_its_page_and_line(tmp_path: Path, body: str, said: str) -> None:
    (complaint,) = site(tmp_path, "\n" + body)
    assert complaint.startswith("a/page.html:2: ")
    assert said in complaint


@pytest.mark.parametrize("rule", ["@import 'https://example.org/x.css';", "i { background: url(//example.org/x.png) }"])
def test_a_style_sheet_asks_nobody_either(tmp_path: Path, rule: str) -> None:
    (complaint,) = site(tmp_path, "", look_css=rule)
    assert "look.css: a request to another host" in complaint


@pytest.mark.parametrize(
    "body",
    [
        '<form class="md-search__form" name="search"><input type="search"></form>',
        '<script type="application/json">{"a": 1}</script>',
        '<script src="../own.js"></script>',
        '<a href="tel:+00">x</a><p style="text-align: left">x</p>',
    ],
)
def test_the_themes_own_search_is_no_form_and_data_is_no_script(tmp_path: Path, body: str) -> None:
    assert site(tmp_path, body, own_js="") == []


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("<form><input></form>", "a form"),
        ('<form class="md-search__form" name="search" action="https://example.org/"></form>', "a form"),
        ("<script>alert(1)</script>", "a script that is not of the theme"),
        ("<p onclick='alert(1)'>x</p>", "something that would run: onclick="),
        ('<a href="javascript:alert(1)">x</a>', "something that would run: href=javascript:"),
        ('<a href=" java\nscript:alert(1)">x</a>', "something that would run: href=javascript:"),
        ('<a href="data:text/html,<script>x</script>">x</a>', "something that would run: href=data:"),
        ('<svg><a xlink:href="javascript:x"><set to="1"/></a></svg>', "something that would run: xlink:href=javascript:"),
        ('<iframe src="other.html"></iframe>', "something embedded: <iframe>"),
        ('<object data="other.html"></object>', "something embedded: <object>"),
        ('<base href="other.html">', "something embedded: <base>"),
        ('<meta http-equiv="Refresh" content="0; url=other.html">', "a page that sends its reader elsewhere"),
        ('<p style="background: url(https://example.org/x)">x</p>', "a request to another host"),
        ("<style>@import 'https://example.org/x.css';</style>", "a request to another host"),
        ('<p style="width: expression(alert(1))">x</p>', "a style that would run something"),
        ('<img src="\\\\example.org\\x.png">', "a request to another host"),
        ('<p id="{{ gap }}">x</p>', "leftover markup"),
        ("<!-- what each reader sees -->", "leftover markup"),
    ],
)
def test_what_would_run_or_send_is_refused(tmp_path: Path, body: str, said: str) -> None:
    assert any(said in complaint for complaint in site(tmp_path, body))


@pytest.mark.parametrize(
    "drawing", ["<svg><script>alert(1)</script></svg>", '<svg onload="x"/>', '<!DOCTYPE svg [<!ENTITY a "b">]><svg/>']
)
def test_a_drawing_runs_nothing_either(tmp_path: Path, drawing: str) -> None:
    (complaint,) = site(tmp_path, "", map_svg=drawing)
    assert complaint.startswith("map.svg:1: ")


def test_scripts_of_the_theme_are_known_by_its_templates(tmp_path: Path) -> None:
    templates = tmp_path / "theme"
    templates.mkdir()
    (templates / "base.html").write_text('<script>scope=new URL("{{ base }}",location)</script>', "utf-8")
    known = scripts_of([templates])
    assert read('<script>scope=new URL("../..",location)</script>', known).complaints == []
    assert read('<script>scope=new URL("..",location);alert(1)</script>', known).complaints == [
        (1, "a script that is not of the theme")
    ]


def cases() -> list[tuple[str, bool]]:
    with (Path(__file__).parents[1] / "reference/15-csv-cases.csv").open(encoding="utf-8", newline="") as file:
        return [(json.loads(row["cell_as_json_string"]), row["wanted"] == "escape") for row in csv.DictReader(file)]


@pytest.mark.parametrize(("cell", "dangerous"), cases())
def test_a_table_holds_no_cell_that_a_spreadsheet_would_work_out(cell: str, dangerous: bool) -> None:  # noqa: FBT001  # the wanted answer
    out = io.StringIO()
    csv.writer(out).writerows([["head", "more"], [cell, "1"]])
    assert bool(list(formulas(out.getvalue().encode()))) is dangerous
    kept = data_csv(DataTable(("head", "more"), ((cell, Value(-1.5)),)))
    assert list(formulas(kept.encode())) == []
    assert kept.splitlines()[0] == "head,more"


def test_a_cell_that_another_separator_would_take_apart_stands_in_quotes() -> None:
    assert data_csv(DataTable(("a",), (("x;=1+2",),))) == 'a\n"x;=1+2"\n'
    assert list(formulas(b"a\nx;=1+2\n")) == [2]


def test_a_picture_that_tells_where_it_was_taken_is_refused(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.GPSInfo).update({1: "N", 2: (51.0, 30.0, 5.5), 3: "W", 4: (0.0, 7.0, 2.0)})
    Image.new("RGB", (8, 8)).save(tmp_path / "a.webp", exif=exif)
    assert list(complaints(tmp_path)) == ["a.webp: a picture that tells where it was taken"]


def test_what_a_file_of_the_installed_look_happens_to_spell_tells_nothing(tmp_path: Path) -> None:
    """Without blanks and signs, ``string == null`` is a name that a check may have."""
    private = Private((SearchTerm("check: id", "ring-nulls", Match.ANYWHERE),))
    for folder in ("site", "installed"):
        (tmp_path / folder / "scripts").mkdir(parents=True)
        (tmp_path / folder / "scripts/a.js").write_text("string == null ? '' : string;")
    (tmp_path / "site/scripts/b.js").write_text("string == null ? '' : string;")
    told = list(complaints(tmp_path / "site", private, installed=[tmp_path / "installed"]))
    assert told == ["scripts/b.js: byte 2 tells check: id"]
    (tmp_path / "site/scripts/a.js").write_text("string == null ? '' : string; // changed")
    assert len(list(complaints(tmp_path / "site", private, installed=[tmp_path / "installed"]))) == 2
