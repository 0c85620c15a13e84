"""Job folders on the disk: nothing of one gets into a site as it is, and nothing is written into one."""

from __future__ import annotations

import random
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner
from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, PluginError

from benchrecord.cli import main
from benchrecord.publish.build import build
from benchrecord.publish.build_beside import BuildBeside
from benchrecord.publish.job_folders import is_job_folder, job_around
from folders import contents, picture, write

CONFIG = """
site_name: T
theme: {name: material, font: false}
plugins: [search, benchrecord-jobs: {folders: [docs/listed, docs/deep/er/listed-too]}, benchrecord-links, benchrecord-guard]
"""
CANARY = "Quillfeather"
PRIVATE: dict[str, str | bytes] = {
    "job.yml": f"title: T\npublish: no\nowner: {{name: {CANARY}}}\n",
    "notes/10-a.md": f"---\nedition: archive\n---\nFor {CANARY}.\n",
    "parts.csv": f"ref,action,note\nR1,replaced,{CANARY}\n",
    "photos/a.jpg": picture() + CANARY.encode(),
    "documents/a.html": f"<p>{CANARY}</p>",
}


def renamed(name: str) -> dict[str, str | bytes]:
    return {name if file == "job.yml" else file: content for file, content in PRIVATE.items()}


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a folder of pages with job folders of every kind among them, none of which may be published."""
    docs = tmp_path / "docs"
    write(docs, {"index.md": "Pages.", "about/me.md": "The bench.", "job.yml.html": "x"})
    (docs / "job.yml").unlink()
    for place in ("listed", "deep/er/listed-too", "unlisted", "about/of/course", "about/.hidden"):
        write(docs / place, PRIVATE)
    for place, name in (("case/upper", "JOB.YML"), ("case/title", "Job.yml"), ("case/yaml", "job.yaml")):
        write(docs / place, renamed(name))
        (docs / place / "job.yml").unlink()
    outside = write(tmp_path / "elsewhere/job", PRIVATE)
    (docs / "linked").symlink_to(outside)
    (docs / "part-of-one").symlink_to(outside / "notes")
    (docs / "photo.jpg").symlink_to(outside / "photos/a.jpg")
    free = write(tmp_path / "free", {"a.jpg": picture() + CANARY.encode()}) / "a.jpg"
    (tmp_path / "free/job.yml").unlink()
    (docs / "unlisted/photos/b.jpg").symlink_to(free)
    (tmp_path / "mkdocs.yml").write_text(CONFIG, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.slow
def test_nothing_of_a_job_folder_below_the_pages_is_published_as_it_is(site: Path, capfd: pytest.CaptureFixture[str]) -> None:
    made = contents(build([], edition=None, site_dir=site / "site", kinds=[]))
    assert [name for name, content in made.items() if CANARY.encode() in content] == []
    pages = {
        name
        for name in made
        if name.endswith((".html", ".csv", ".yml", ".yaml", ".md", ".jpg")) and not name.startswith("assets/")
    }
    assert pages == {"404.html", "index.html", "about/me/index.html", "jobs/index.html", "job.yml.html"}
    told = [line.strip().removeprefix("benchrecord: ") for line in capfd.readouterr().err.splitlines()]
    names = ["about/.hidden", "about/of/course", "case/title", "case/upper", "case/yaml", "unlisted"]
    assert [line for line in told if line.startswith("docs/")] == [f"docs/{name}" for name in names]
    assert sum("warning unlisted-job" in line for line in told) == len(names) + 1  # and the one that a link leads to
    assert any(line.startswith("write:    add docs/unlisted to folders, or move it out of docs;") for line in told)


def test_a_file_is_in_a_job_wherever_the_job_folder_is_above_it(tmp_path: Path) -> None:
    dice = random.Random(7)  # noqa: S311  # shapes, not secrets
    for turn in range(60):
        docs = tmp_path / str(turn) / "docs"
        depth, at = dice.randint(0, 5), dice.randint(0, 6)
        folders = [docs, *(docs.joinpath(*"abcde"[:n]) for n in range(1, depth + 1))]
        file = folders[-1] / "page.md"
        file.parent.mkdir(parents=True)
        file.touch()
        if at < len(folders):
            (folders[at] / dice.choice(["job.yml", "JOB.yml", "Job.YAML"])).touch()
        else:
            (docs.parent / "job.yml").touch()  # the pages of a site that is kept in a job folder are pages
        assert job_around(file, docs) == (folders[at] if at < len(folders) else None)


def test_a_folder_that_cannot_be_read_is_no_job_folder(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert not is_job_folder(tmp_path / "file")
    assert not is_job_folder(tmp_path / "gone")


# --- What is written ---


def run(*words: str) -> tuple[int, str]:
    ran = CliRunner().invoke(main, [*words])
    return ran.exit_code, ran.output


@pytest.mark.slow
@pytest.mark.parametrize(
    ("folder", "words"),
    [
        ("small", ["build", "."]),
        ("small/notes", ["build", "..", "--edition", "owner"]),
        ("small", ["build", "../small", "--site-dir", "photos/my site"]),
        ("small", ["build", "../other", "--site-dir", "."]),
        (".", ["build", "small", "--edition", "archive", "--as-of", "2026-05-23", "--site-dir", "other/deep/down"]),
    ],
)
def test_no_site_is_put_into_a_job_folder_and_the_command_it_names_works(
    tmp_path: Path, job: Path, monkeypatch: pytest.MonkeyPatch, folder: str, words: list[str]
) -> None:
    write(job, {"notes/10-a.md": "Words."})
    write(tmp_path / "other", {})
    before = contents(tmp_path)
    monkeypatch.chdir(tmp_path / folder)
    code, said = run(*words)
    assert code == 1
    assert "is in the job folder" in said
    assert contents(tmp_path) == before
    command = said.split("\n\n")[1].strip()
    assert command.startswith("benchrecord build ")
    code, said = run(*shlex.split(command)[1:])
    assert (code, said[:5]) == (0, "Open ")
    assert {n: c for n, c in contents(tmp_path).items() if n.startswith(("small/", "other/"))} == before


def test_mkdocs_puts_no_site_into_a_job_folder_either(tmp_path: Path, job: Path) -> None:
    config = MkDocsConfig()
    config.site_dir = str(job / "deep/site")
    with pytest.raises(PluginError, match=f"mkdocs build --site-dir {tmp_path / 'site'}"):
        BuildBeside.started(config)
    assert [*contents(tmp_path)] == ["small/job.yml"]


@pytest.mark.parametrize("place", [".", "cache", "photos/deep/cache"])
def test_no_cache_is_put_into_a_job_folder_and_the_folder_it_names_works(
    tmp_path: Path, job: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, place: str
) -> None:
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "docs", {"index.md": "Pages."})
    (tmp_path / "docs/job.yml").unlink()
    config = tmp_path / "mkdocs.yml"

    def made(cache: str) -> None:
        config.write_text(f"site_name: T\nplugins: [benchrecord-jobs: {{folders: [small], cache: '{cache}'}}]\n", "utf-8")
        mkdocs_build(load_config(str(config)))

    before = contents(job)
    with pytest.raises(Abort):
        made(f"small/{place}")
    assert "error cache-in-job" in caplog.text
    assert contents(job) == before
    made(caplog.text.split("set cache: ")[1].split(", or")[0])
    assert contents(job) == before


@pytest.mark.parametrize("place", ["", ".cache", "measurements/a/b"])
@pytest.mark.parametrize("command", ["check", "build", "findings", "hand-over"])
def test_a_cache_that_the_environment_puts_into_a_job_folder_is_refused_alike(
    tmp_path: Path, job: Path, monkeypatch: pytest.MonkeyPatch, place: str, command: str
) -> None:
    before = contents(tmp_path)
    monkeypatch.setenv("BENCHRECORD_CACHE", str(job / place))
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, [command, str(job)])
    assert result.exit_code == 1
    assert "error cache-in-job" in result.output
    assert f"set BENCHRECORD_CACHE={tmp_path / 'benchrecord-cache'}, or" in result.output
    assert contents(tmp_path) == before


def test_a_site_that_is_in_a_job_folder_already_is_one_warning_and_stops_no_build(tmp_path: Path, job: Path) -> None:
    write(job, {"job.yml": "title: T\nowner: {name: Ottilie Marrenbach}\npublish: yes\n", "photos/a.jpg": picture()})
    build([job], edition="owner", site_dir=tmp_path / "site", kinds=[])
    (tmp_path / "site").rename(job / "site")
    code, said = run("check", str(job))
    assert (code, said.count("warning site-in-job"), said.splitlines()[-1]) == (0, 1, "1 warning")
    made = contents(build([job], edition=None, site_dir=tmp_path / "site", kinds=[]))
    assert not any(b"Marrenbach" in content for content in made.values())
