"""Building a site: the former one stays whole, foreign folders are left alone, two builds are the same."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
import yaml

from benchrecord.publish.build import Refused, build
from benchrecord.publish.config import JobsConfig
from benchrecord.publish.jobs import with_archive
from benchrecord.publish.site_folder import begin
from benchrecord.publish.site_record import RECORD, foreign
from folders import contents, picture, write
from forked import started
from once import DEMO_EPOCH

ROOT = Path(__file__).parents[2]
BUILD = [sys.executable, "-m", "benchrecord", "build"]


@pytest.mark.slow
def test_no_reader_s_site_takes_the_place_of_another_s(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    made = [build([job], edition=edition, site_dir=None, kinds=[]) for edition in (None, "portfolio", "owner", "archive")]
    assert [site.name for site in made] == ["site", "site", "site-owner", "site-archive"]


def test_a_site_of_one_folder_needs_no_mkdocs_yml(tmp_path: Path, job: Path) -> None:
    made = build([job], edition=None, site_dir=tmp_path / "site", kinds=[])
    assert made == tmp_path / "site"
    assert "A small job" in (made / "jobs/small/index.html").read_text("utf-8")
    assert (made / "jobs/small/data/findings.json").is_file()


def test_a_new_site_takes_the_place_of_the_old_one(tmp_path: Path, job: Path) -> None:
    site = build([job], edition=None, site_dir=tmp_path / "site", kinds=[])
    write(job, {"notes/10-a.md": "x"})
    build([job], edition=None, site_dir=site, kinds=[])
    assert (site / "jobs/small/notes/a.html").is_file()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["site", "small"]


def test_a_second_build_at_once_is_told_of_the_first(tmp_path: Path, job: Path) -> None:
    with closing(begin(tmp_path / "site")), pytest.raises(Refused, match=f"being built by process {os.getpid()}"):
        build([job], edition=None, site_dir=tmp_path / "site", kinds=[])


def test_the_site_stands_where_mkdocs_yml_says_whatever_else_it_says(
    tmp_path: Path, job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "docs").mkdir()
    yml = "site_name: !ENV [NAME, T]\nsite_dir: public\ntheme: {name: material, font: false}\nplugins: [benchrecord-jobs: {folders: [small]}, benchrecord-links]\n"
    (tmp_path / "mkdocs.yml").write_text(yml, "utf-8")
    monkeypatch.chdir(tmp_path)
    assert build([], edition=None, site_dir=None, kinds=[]) == tmp_path / "public"
    assert (tmp_path / "public/jobs" / job.name / "index.html").is_file()


def test_a_job_that_is_not_published_is_in_no_portfolio_but_its_owner_gets_it(tmp_path: Path, job: Path) -> None:
    write(job, {"job.yml": "title: Private\n"})
    assert not (build([job], edition=None, site_dir=tmp_path / "a", kinds=[]) / "jobs/small").exists()
    assert (build([job], edition="owner", site_dir=tmp_path / "b", kinds=[]) / "jobs/small/index.html").is_file()


def test_only_the_technicians_site_has_the_archive_and_it_counts_from_the_day_that_is_stated(tmp_path: Path, job: Path) -> None:
    write(job, {"job.yml": "title: T\ndates: {received: 2026-02-03, warranty_until: 2027-04-18}\n"})
    day = date(2026, 5, 1)
    site = build([job], edition="archive", site_dir=tmp_path / "a", kinds=[], as_of=day)
    assert "As of 1 May 2026" in (site / "archive/open.html").read_text("utf-8")
    assert 'href="../archive/index.html"' in (site / "jobs/index.html").read_text("utf-8")
    for edition in ("owner", "portfolio"):
        other = build([job], edition=edition, site_dir=tmp_path / edition, kinds=[], as_of=day)
        assert not (other / "archive").exists()
        assert "archive/index" not in (other / "jobs/index.html").read_text("utf-8")


@pytest.mark.parametrize("written", ["tomorrow", "2026-05-23 10:00:00", "2026"])
def test_what_is_no_day_is_told_in_plain_words(written: str) -> None:
    found = JobsConfig()
    found.load_dict({"as_of": yaml.safe_load(written)})
    assert any("a day is expected, as 2026-05-23" in str(why) for _, why in found.validate()[0])


@pytest.mark.parametrize(
    ("nav", "wanted"),
    [
        ([{"Home": "index.md"}], [{"Home": "index.md"}, {"Archive": "archive/index.md"}]),
        ([{"All": "jobs/index.md"}, "x.md"], [{"All": "jobs/index.md"}, {"Archive": "archive/index.md"}, "x.md"]),
        (["jobs/index.md", "x.md"], ["jobs/index.md", {"Archive": "archive/index.md"}, "x.md"]),
        ([{"Mine": [{"Old": "archive/index.md"}]}], [{"Mine": [{"Old": "archive/index.md"}]}]),
    ],
)
def test_the_menu_has_the_archive_once_behind_the_index_of_jobs(nav: list[object], wanted: list[object]) -> None:
    assert with_archive(nav) == wanted


def test_a_problem_stops_it_and_the_former_site_is_left_whole(tmp_path: Path, job: Path) -> None:
    site = build([job], edition=None, site_dir=tmp_path / "site", kinds=[])
    before = contents(site)
    write(job, {"job.yml": "titel: x\n"})
    with pytest.raises(Refused) as refused:
        build([job], edition=None, site_dir=site, kinds=[])
    assert "write title" in str(refused.value)
    assert contents(site) == before


@pytest.mark.slow
def test_a_refused_site_is_traced_to_each_line_it_comes_from_and_to_the_command_that_lists_them(tmp_path: Path) -> None:
    own = "title: T\npublish: yes\ninstrument: {model: M, serial: VP-0613-K}\nowner: {name: Ottilie Marrenbach}\n"
    texts: dict[str, str | bytes] = {
        "job.yml": own,
        "notes/10-a.md": "# One\n\nFor Marrenbach, then\nMarrenbach again.\n",
        "faults.csv": "symptom,cause\nhum,VP 0613 K\n",
        "notes/20-b.md": "---\nedition: owner\n---\nFor Marrenbach.\n",
    }
    job, clean = write(tmp_path / "my job", texts), write(tmp_path / "clean", {"job.yml": "title: C\npublish: yes\n"})
    with pytest.raises(Refused) as refused:
        build([job, clean], edition=None, site_dir=tmp_path / "site", kinds=[])
    lines = str(refused.value).splitlines()
    written = lines[lines.index("It is written in:") + 1 :]
    assert sorted(written[:3]) == [
        f"  {job / 'faults.csv'}, line 2, column cause: instrument: serial",
        f"  {job / 'notes/10-a.md'}, line 3, column 5: owner: name",
        f"  {job / 'notes/10-a.md'}, line 4, column 1: owner: name",
    ]
    assert f"  benchrecord check --edition portfolio '{job}'" in written
    assert not any(word in line for line in written for word in ("Marrenbach", "clean"))


def test_a_folder_that_is_no_site_of_ours_is_never_replaced(tmp_path: Path, job: Path) -> None:
    (tmp_path / "precious").mkdir()
    (tmp_path / "precious/letter.txt").write_text("dear")
    with pytest.raises(Refused, match="holds files that are not a site"):
        build([job], edition=None, site_dir=tmp_path / "precious", kinds=[])
    assert contents(tmp_path / "precious") == {"letter.txt": b"dear"}


def test_the_job_folder_is_never_written_to(tmp_path: Path, job: Path) -> None:
    write(job, {"photos/a.jpg": picture(), "notes/10-a.md": "x"})
    before = {name: (content, (job / name).stat().st_mtime_ns) for name, content in contents(job).items()}
    build([job], edition="archive", site_dir=tmp_path / "site", kinds=[])
    assert {name: (content, (job / name).stat().st_mtime_ns) for name, content in contents(job).items()} == before


def test_two_ids_that_would_share_an_address_are_a_problem(tmp_path: Path, job: Path) -> None:
    write(job, {"notes/a b.md": "x", "notes/a-b.md": "y"})
    with pytest.raises(Refused, match="two ids, one address"):
        build([job], edition=None, site_dir=tmp_path / "site", kinds=[])


def test_without_a_folder_and_without_mkdocs_yml_it_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(Refused, match="name a job folder"):
        build([], edition=None, site_dir=None, kinds=[])


@pytest.mark.slow
def test_two_builds_are_the_same_byte_for_byte(tmp_path: Path, demo_site: Path) -> None:
    """The demo as this process or another one of the tests built it, and anew from nothing by the command."""
    own = {**os.environ, "SOURCE_DATE_EPOCH": DEMO_EPOCH, "BENCHRECORD_CACHE": str(tmp_path / "cache")}
    subprocess.run([*BUILD, "--site-dir", str(tmp_path / "two")], cwd=ROOT, env=own, check=True, capture_output=True)
    one, two = contents(demo_site), contents(tmp_path / "two")
    assert [name for name in one if one[name] != two.get(name)] == []
    assert one.keys() == two.keys()


def _hear_interrupts() -> None:
    """Undo what a shell does to what it runs in the background, where it ignores them."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.slow
def test_an_interrupted_build_leaves_the_former_site_whole(tmp_path: Path, job: Path) -> None:
    site = build([job], edition=None, site_dir=tmp_path / "site", kinds=[])
    before = contents(site)
    write(job, {f"photos/{n}.jpg": picture(3000, 2000) for n in range(40)})
    env = {**os.environ, "BENCHRECORD_CACHE": str(tmp_path / "cache")}
    running = subprocess.Popen(
        [*BUILD, str(job), "--site-dir", str(site)],
        env=env,
        stderr=subprocess.PIPE,
        preexec_fn=_hear_interrupts,  # noqa: PLW1509  # one thread
    )
    deadline = time.monotonic() + 60
    while not any((tmp_path / "cache").rglob("*")) and time.monotonic() < deadline:
        time.sleep(0.05)
    running.send_signal(signal.SIGINT)
    _, said = running.communicate(timeout=60)
    assert running.returncode not in (0, None)
    assert b"Traceback" not in said
    assert contents(site) == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["cache", "site", "small"]


def whole_site(site: Path) -> str:
    """Return which site stands there, once it is certain that all of it does: no file missing, changed or added."""
    recorded = {line.partition("  ")[2] for line in (site / RECORD).read_text("utf-8").splitlines()}
    assert recorded == contents(site).keys() - {RECORD}
    assert list(foreign(site)) == []
    return "later" if (site / "jobs/small/notes/a.html").is_file() else "first"


def mkdocs_yml(folder: Path) -> None:
    (folder / "docs").mkdir()
    plugins = "plugins: [search, benchrecord-jobs: {folders: [small]}, benchrecord-links, benchrecord-guard]"
    (folder / "mkdocs.yml").write_text(
        f"site_name: T\nuse_directory_urls: false\ntheme: {{name: material, font: false}}\n{plugins}\n", "utf-8"
    )


def ran_to_its_end(folder: Path, command: list[str]) -> None:
    running = started(folder, *command)
    running.join()
    assert running.exitcode == 0


@pytest.mark.slow
@pytest.mark.parametrize(
    "command", [["benchrecord", "build", "small"], ["mkdocs", "build", "-q"]], ids=["benchrecord", "mkdocs"]
)
def test_killed_at_any_of_12_moments_the_former_or_the_new_site_stands_there_whole(
    tmp_path: Path, job: Path, command: list[str]
) -> None:
    mkdocs_yml(tmp_path)
    ran_to_its_end(tmp_path, command)  # the first of them waits for all to be loaded
    began = time.monotonic()
    ran_to_its_end(tmp_path, command)
    length = time.monotonic() - began
    dice = random.Random(len(command))  # noqa: S311  # moments, not secrets
    for turn in range(12):
        (write(job, {"notes/10-a.md": "x"}) / "notes/10-a.md").unlink() if turn % 2 else write(job, {"notes/10-a.md": "x"})
        running = started(tmp_path, *command)
        until = time.monotonic() + dice.uniform(0, 1.2 * length)
        while running.is_alive() and time.monotonic() < until:
            assert (tmp_path / "site/index.html").stat().st_size > 1000  # servable at each moment
            time.sleep(0.002)
        running.kill()
        running.join()
        whole_site(tmp_path / "site")
    write(job, {"notes/10-a.md": "x"})
    ran_to_its_end(tmp_path, command)
    assert whole_site(tmp_path / "site") == "later"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["docs", "mkdocs.yml", "site", "small"]


@pytest.mark.slow
def test_on_a_terminal_long_steps_show_how_far_they_are(tmp_path: Path, job: Path) -> None:
    write(job, {f"photos/{n}.jpg": picture() for n in range(3)})
    pty = pytest.importorskip("pty")
    terminal, its_end = pty.openpty()
    env = {**os.environ, "BENCHRECORD_CACHE": str(tmp_path / "cache")}
    subprocess.run(
        [*BUILD, str(job), "--site-dir", str(tmp_path / "s")], stderr=its_end, env=env, check=True, capture_output=False
    )
    os.close(its_end)
    said = os.read(terminal, 10_000).decode()
    os.close(terminal)
    assert "Photographs 1 of 3" in said
    assert said.rpartition("\r")[2] == ""
    assert said.rpartition("\r")[0].rpartition("\r")[2].isspace()  # and the line is blank again


@pytest.mark.slow
def test_nothing_is_shown_of_the_progress_when_piped(tmp_path: Path, job: Path) -> None:
    write(job, {"photos/a.jpg": picture()})
    ran = subprocess.run([*BUILD, str(job), "--site-dir", str(tmp_path / "s")], capture_output=True, text=True, check=True)
    assert ran.stdout == f"Open {tmp_path / 's' / 'index.html'}\n"
    assert ran.stderr == ""
