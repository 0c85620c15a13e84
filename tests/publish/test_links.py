"""Names become links: bare designators, exact ones, and things by their kind; in hand-written pages too."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.exceptions import Abort

from folders import write

TWO_BOARDS = {
    "job.yml": "title: T\npublish: yes\ninstrument: {model: Alder}\n",
    "boards/psu.csv": "ref,x_mm,y_mm\nR1,1,1\nR2,2,2\nR3,3,3\nR4,4,4\nC7,5,5\n",
    "boards/tone.csv": "ref,x_mm,y_mm\nR1,1,1\nU9,2,2\n",
    "checks.yml": "- {id: rails, title: Rails, kind: readings, file: r.csv}\n",
    "measurements/r.csv": "item,as_found\n+15 V,15\n",
}
CONFIG = """
site_name: Test
use_directory_urls: false
theme: {name: mkdocs}
plugins:
  - benchrecord-jobs: {folders: [FOLDERS]}
  - benchrecord-links
"""


def built(tmp_path: Path, page: str, *, jobs: tuple[str, ...] = ("alder",), files: dict[str, str] | None = None) -> str:
    """Build a site of jobs with one hand-written page; return the page's content."""
    for name in jobs:
        write(tmp_path / name, {**TWO_BOARDS, **(files or {})})
    (tmp_path / "docs").mkdir()
    (tmp_path / "docs" / "index.md").write_text(page, "utf-8")
    config = tmp_path / "mkdocs.yml"
    config.write_text(CONFIG.replace("FOLDERS", ", ".join(jobs)), "utf-8")
    build(load_config(str(config)))
    html = (tmp_path / "site" / "index.html").read_text("utf-8")
    return html.split('role="main">')[1].split("</div>")[0]


def links(html: str) -> dict[str, str]:
    return {words: href for href, words in re.findall(r'<a[^>]*href="([^"]*)"[^>]*>([^<]*)</a>', html)}


PSU, TONE = "jobs/alder/boards/psu.html", "jobs/alder/boards/tone.html"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("R2 was dark.", {"R2": f"{PSU}#R2"}),
        ("See psu:R1 and tone:R1", {"psu:R1": f"{PSU}#R1", "tone:R1": f"{TONE}#R1"}),
        ("R2/R3", {"R2": f"{PSU}#R2", "R3": f"{PSU}#R3"}),
        ("R2–R4", {"R2": f"{PSU}#R2", "R4": f"{PSU}#R4"}),
        ("R2, R3 and R4", {"R2": f"{PSU}#R2", "R3": f"{PSU}#R3", "R4": f"{PSU}#R4"}),
        ("(C7), U9.", {"C7": f"{PSU}#C7", "U9": f"{TONE}#U9"}),
        ("**R2** and *U9*", {"R2": f"{PSU}#R2", "U9": f"{TONE}#U9"}),
        ("R1 is on both boards", {}),
        ("R99, 4k7, R2D2x, XR2", {}),
        ("`R2` and [R2](https://example.org/)", {"R2": "https://example.org/"}),
        ("# R2\n\nwords", {}),
        ("    R2 in code\n", {}),
        ("[the rails](check:rails)", {"the rails": "jobs/alder/checks.html#check-rails"}),
        ("[the board](board:psu)", {"the board": PSU}),
        ("[that one](psu:R3)", {"that one": f"{PSU}#R3"}),
    ],
)
def test_names_lead_where_they_should(tmp_path: Path, text: str, found: dict[str, str]) -> None:
    assert links(built(tmp_path, text)) == found


def test_a_board_in_the_page_s_head_says_whose_designators_these_are(tmp_path: Path) -> None:
    assert links(built(tmp_path, "---\njob: alder\nboard: tone\n---\nR1\n")) == {"R1": f"{TONE}#R1"}


def test_with_two_jobs_the_page_s_head_says_which_is_meant(tmp_path: Path) -> None:
    page = built(tmp_path, "---\njob: birch\n---\n[the rails](check:rails) and R2\n", jobs=("alder", "birch"))
    assert links(page) == {"the rails": "jobs/birch/checks.html#check-rails", "R2": "jobs/birch/boards/psu.html#R2"}


@pytest.mark.parametrize(
    ("page", "jobs", "said"),
    [
        ("x\n\n[gone](check:gone)\n", ("alder",), r"line 3: error dead-reference\n\s+read:\s+check:gone"),
        ("[both](check:rails)\n", ("alder", "birch"), r"line 1: error ambiguous-reference\n\s+read:\s+check:rails"),
    ],
)
def test_a_reference_that_leads_nowhere_or_to_two_places_stops_the_build(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, page: str, jobs: tuple[str, ...], said: str
) -> None:
    with pytest.raises(Abort):
        built(tmp_path, page, jobs=jobs)
    assert re.search(said, caplog.text)


def test_a_designator_in_a_note_belongs_to_the_note_s_own_board_first(tmp_path: Path) -> None:
    built(tmp_path, "x", files={"notes/10-a.md": "---\nboard: tone\n---\nR1 and R2 and psu:R1\n"})
    html = (tmp_path / "site/jobs/alder/notes/a.html").read_text("utf-8")
    note = html.split('class="br-note"')[1].split("</div>")[0]
    assert links(note) == {"R1": "../boards/tone.html#R1", "R2": "../boards/psu.html#R2", "psu:R1": "../boards/psu.html#R1"}
