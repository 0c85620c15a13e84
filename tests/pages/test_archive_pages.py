"""The archive's pages: what stands where, what is brought together, and how large it gets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

import pytest

from archives import folders
from benchrecord.checks import all_kinds
from benchrecord.findings import work_out
from benchrecord.findings.archive import gather
from benchrecord.model.job import Edition, Instrument, Job
from benchrecord.pages.archive_index import anchors, labels, value_order
from benchrecord.pages.archive_pages import MOST, archive_pages
from benchrecord.pages.view import Pictures, View
from benchrecord.publish.work import read_all
from folders import write

ONE: dict[str, str | bytes] = {
    "job.yml": "title: Overhaul\ninstrument: {maker: Ostermay, model: Loopwell 2, kind: tape echo, year: 1973, serial: L-7}\n"
    "owner: {name: Ottilie, phone: 0143}\ncosts: {currency: EUR, hourly_rate: 50}\n"
    "dates: {received: 2025-03-01, returned: 2025-04-01, warranty_until: 2026-04-01, next_service: 2027-04}\n",
    "notes/10-a.md": "---\nhours: 2.5\ndate: 2025-03-02\n---\nx\n",
    "boards/psu.csv": "ref,x_mm,y_mm,kind,value,function\nC2,1,1,electrolytic,2200u 35V,reservoir\nR1,2,2,wirewound,4k7,\n",
    "parts.csv": "board,ref,action,was,now,was_rating,now_rating,reason,unit_cost,supplier,order_code,obsolete,status,note\n"
    "psu,C2,replaced,2200u,2200u,35 V,50 V,leaked,2.40,Quayside,QC-2004,no,fitted,\n"
    "psu,R1,replaced,4.7 kΩ,4k7,,,drifted,0.08,Quayside,QC-1,no,fitted,\n"
    ",U9,replaced,VP-OM2,dual amplifier,,,dead,3.20,Old Pier,OP-1,yes,fitted,on a carrier\n"
    ",U3,replaced,CX 41,CX 41,,,sharp,18,Old Pier,OP-41,yes,ordered,\n",
    "faults.csv": "symptom,cause,board,ref,remedy,hours\nHum,C2 leaking,psu,C2,replaced,1.5\nclicks,,,,,\n",
    "date-codes.csv": "board,ref,code\npsu,C2,7242\n",
    "documents/schematic.pdf": b"x",
    "documents.csv": "file,title,kind\nschematic.pdf,Schematic of 1973,schematic\n",
}
TWO: dict[str, str | bytes] = {
    **ONE,
    "job.yml": str(ONE["job.yml"]).replace("2026", "2027").replace("2025", "2026").replace("L-7", "L-8"),
    "notes/10-a.md": "---\nhours: 2.5\ndate: 2026-03-02\n---\nx\n",
    "faults.csv": "symptom,cause,board,ref,remedy\nhum,C2  leaking,psu,C2,Replaced\nhum,diode shorted,psu,R1,replaced\n",
    "documents.csv": "file,title,kind,edition\nschematic.pdf,Schematic of 1973,schematic,owner\n",
}


def views_of(folders_: Sequence[Path]) -> list[View]:
    kinds = all_kinds()
    jobs, problems = read_all(folders_, kinds)
    assert [p for p in problems if p.severity == "error"] == []
    return [View(job, work_out(job, kinds), Pictures(), Edition.ARCHIVE) for _, job in jobs]


def pages_of(folders_: Sequence[Path], as_of: date | None = None) -> dict[str, str]:
    views = views_of(folders_)
    pages = archive_pages(gather([v.job for v in views], as_of), views)
    assert len({p.src for p in pages}) == len(pages)
    return {p.src.removeprefix("archive/").removesuffix(".md"): p.markdown for p in pages}


@pytest.fixture
def pages(tmp_path: Path) -> dict[str, str]:
    return pages_of([write(tmp_path / "one", ONE), write(tmp_path / "two", TWO)])


def section(page: str, anchor: str) -> str:
    """Return what stands under a heading, up to the next of its rank."""
    start = page.index(f"#{anchor} " if f"#{anchor} " in page else f"#{anchor}}}")
    head = page.rfind("\n#", 0, start) + 1
    rank = len(page[head:].split(" ", maxsplit=1)[0])
    return re.split(rf"\n#{{1,{rank}}} ", page[head + rank :])[0]


def test_every_list_has_its_page_and_all_are_in_the_menu(pages: dict[str, str]) -> None:
    lists = {
        "open",
        "models",
        "faults",
        "parts",
        "designators",
        "substitutes",
        "suppliers",
        "date-codes",
        "hours-and-cost",
        "documents",
    }
    assert set(pages) == {"index", "models/ostermay-loopwell-2", *lists}
    for page in pages.values():
        menu = page.split("</nav>")[0]
        assert {name for name in lists if f"br:/archive/{name}.md" in menu} == lists


def test_a_list_with_nothing_in_it_is_not_there(tmp_path: Path) -> None:
    assert set(pages_of([write(tmp_path / "x", {})])) == {"index", "open", "models", "models/a-small-job", "hours-and-cost"}


def test_no_job_no_archive() -> None:
    assert archive_pages(gather([]), []) == []


def test_a_symptom_stands_once_with_all_its_causes_the_most_frequent_first(pages: dict[str, str]) -> None:
    hum = section(pages["faults"], "symptom-Hum")
    assert hum.index("C2 leaking") < hum.index("diode shorted")
    assert hum.count("<tr><td") == 2
    for target in ("jobs/one/index.md#fault-1", "jobs/two/index.md#fault-1", "jobs/one/boards/psu.md#part-C2"):
        assert f"br:/{target}" in hum
    assert "none yet" in section(pages["faults"], "symptom-clicks")


def test_a_value_stands_once_however_it_is_written_and_leads_to_every_row(pages: dict[str, str]) -> None:
    assert pages["parts"].index("#value-C-2200u") < pages["parts"].index("## R")
    found = section(pages["parts"], "value-R-4.7-k" + "Ω")
    assert "4k7" in found
    assert "Quayside" in found
    assert "0.08 EUR" in found
    assert "br:/jobs/one/parts.md#row-psu-R1" in found
    assert "br:/jobs/two/parts.md#row-psu-R1" in found
    assert "wirewound" in section(pages["parts"], "letters-R")


def test_a_model_tells_all_that_happened_to_a_designator(pages: dict[str, str]) -> None:
    c2 = section(pages["models/ostermay-loopwell-2"], "psu-C2")
    for words in ("electrolytic · 2200u 35V · reservoir", "leaked", "2200u", "50 V", "fault: Hum; C2 leaking; replaced", "date code 7242", "week 42 of 1972"):  # fmt: skip
        assert words in c2
    assert "Loopwell 2, 2025" in c2
    assert "Loopwell 2, 2026" in c2
    assert "br:/archive/models/ostermay-loopwell-2.md#psu-C2" in pages["designators"].split('id="C2"')[1].split("</li>")[0]


def test_what_is_no_longer_made_has_what_took_its_place(pages: dict[str, str]) -> None:
    found = section(pages["substitutes"], "obsolete-VP-OM2")
    for words in ("dual amplifier", "on a carrier", "Old Pier", "OP-1", "3.20 EUR", "br:/jobs/one/parts.md#row-U9"):
        assert words in found
    assert "ordered" in section(pages["substitutes"], "obsolete-CX-41")


def test_a_supplier_has_what_was_bought_and_what_it_came_to(pages: dict[str, str]) -> None:
    pier = section(pages["suppliers"], "supplier-Old-Pier")
    assert "6.40 EUR for what was fitted" in pier  # what is only ordered is not paid for
    assert pier.index("OP-1") < pier.index("OP-41")


def test_what_is_open_and_due_is_told_for_a_stated_day(pages: dict[str, str], tmp_path: Path) -> None:
    assert "As of 1 April 2026" in pages["open"]
    coming = section(pages["open"], "coming")
    assert "1 April 2026" in coming
    assert "1 April 2027" in coming
    assert "service due" in coming
    assert "Ottilie, 0143" in coming
    still = section(pages["open"], "still")
    assert "No remedy yet:" in still
    assert "Ordered:" in still
    later = pages_of([tmp_path / "one", tmp_path / "two"], date(2030, 1, 1))["open"]
    assert "April 2027" in section(later, "overdue")
    assert "No warranty ends, and no service is due." in later


def test_hours_and_cost_are_summed_by_kind_and_say_of_how_many(tmp_path: Path) -> None:
    without = {**TWO, "notes/10-a.md": "x\n"}
    page = pages_of([write(tmp_path / "one", ONE), write(tmp_path / "two", without)])["hours-and-cost"]
    kinds = section(page, "kinds")
    assert "2.5 (of 1)" in kinds
    assert "125.00 EUR (of 1)" in kinds
    assert "11.36 EUR" in kinds
    assert "130.68 EUR (of 1)" in kinds
    assert "no hours are given" in section(page, "jobs")


def test_documents_say_whose_they_are(pages: dict[str, str]) -> None:
    assert "<td>schematic</td>" in pages["documents"]
    assert "documents/schematic.pdf" in pages["documents"]
    assert "the archive" in pages["documents"]
    assert "the owner" in pages["documents"]


@pytest.mark.parametrize(
    "word", ["<script>alert(1)</script>", '"quoted" & <b>', "[a](b) *c* `d` # e", "{{ 7*7 }} {% x %}", "²³ 9" + "9" * 5000]
)
def test_words_of_a_job_are_never_markup(tmp_path: Path, word: str) -> None:
    quoted, yaml_word = '"' + word.replace('"', '""') + '"', "'" + word + "'"
    files: dict[str, str | bytes] = {
        "job.yml": f"title: T\ninstrument: {{maker: {yaml_word}, model: {yaml_word}, kind: {yaml_word}, serial: {yaml_word}}}\n",
        "parts.csv": f"ref,action,was,now,reason,supplier,order_code,obsolete\nR1,replaced,{','.join([quoted] * 5)},yes\n",
        "faults.csv": f"symptom,cause,remedy\n{','.join([quoted] * 3)}\n",
        "date-codes.csv": f"ref,code,note\nR1,{quoted},{quoted}\n",
    }
    for name, page in pages_of([write(tmp_path / "x", files)]).items():
        assert "<script" not in page, name
        assert "<b>" not in page, name
        assert "7*7" not in word or "49" not in page, name
        assert not re.search(r"\[a\]\(b\)", page.replace(r"\[a\]\(b\)", "")) or name, name


def test_jobs_of_one_model_and_year_are_told_apart() -> None:
    jobs = [Job(i, "T", Instrument("M", "X 1", serial=s)) for i, s in (("a", "1"), ("b", "2"), ("c", "3"), ("d", "3"))]
    assert labels(jobs) == {"a": "X 1 (1)", "b": "X 1 (2)", "c": "X 1 (c)", "d": "X 1 (d)"}
    assert labels([Job("a", "Only a title")]) == {"a": "Only a title"}


def test_names_that_would_share_an_anchor_do_not() -> None:
    assert anchors("v-", ["1/2 W", "1-2 W", "x"]) == ["v-1-2-W", "v-1-2-W--2", "v-x"]


def test_values_are_ordered_by_size_then_words() -> None:
    assert sorted(["NPN", "10u", "4u7", "1n", "47k", "4.7 kΩ", "CX 60", "cx 7"], key=value_order) == [
        "1n", "4u7", "10u", "4.7 kΩ", "47k", "cx 7", "CX 60", "NPN",
    ]  # fmt: skip


# --- Many jobs ---


@pytest.fixture(scope="module", params=[20, pytest.param(200, marks=pytest.mark.slow)])
def many(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[list[View], dict[str, str]]:
    views = views_of(folders(tmp_path_factory.mktemp("many"), request.param))
    pages = archive_pages(gather([v.job for v in views]), views)
    return views, {p.src: p.markdown for p in pages}


def test_of_many_jobs_no_row_is_lost(many: tuple[list[View], dict[str, str]]) -> None:
    views, pages = many
    led_to = {
        name: _targets(t for src, t in pages.items() if src.startswith(f"archive/{name}"))
        for name in ("parts", "faults", "suppliers", "models/")
    }
    works = {f"jobs/{v.job.id}/parts.md#row-{row.board}-{row.ref}" for v in views for row in v.job.parts}
    faults = {f"jobs/{v.job.id}/index.md#fault-{n}" for v in views for n in range(1, len(v.job.faults) + 1)}
    assert works <= led_to["parts"]
    assert works <= led_to["suppliers"]
    assert works | faults <= led_to["models/"]
    assert faults <= led_to["faults"]
    assert {f"jobs/{v.job.id}/index.md" for v in views} <= _targets([pages["archive/hours-and-cost.md"]])


def _targets(pages: Iterable[str]) -> set[str]:
    return {target for page in pages for target in re.findall(r'href="br:/([^"]+)"', page)}


def test_of_many_jobs_every_inner_link_leads_somewhere(many: tuple[list[View], dict[str, str]]) -> None:
    pages = many[1]
    offered = {src: set(ids(text)) for src, text in pages.items()}
    for target in {t for t in _targets(pages.values()) if t.startswith("archive/")}:
        page, _, anchor = target.partition("#")
        assert page in offered, target
        assert not anchor or anchor in offered[page], target


def test_of_many_jobs_no_page_is_too_large_and_no_anchor_stands_twice(many: tuple[list[View], dict[str, str]]) -> None:
    for src, text in many[1].items():
        assert len(ids(text)) == len(set(ids(text))), src
        assert len(text.encode()) < 1_000_000, src
        if src.startswith(("archive/parts", "archive/suppliers", "archive/faults")):
            assert text.count("<tr><t") <= 2 * MOST, src


def ids(page: str) -> list[str]:
    return re.findall(r'(?:id="|\{ #)([^"\s}]+)', page)
