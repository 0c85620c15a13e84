"""A kind of check is one file: the recipe in DEVELOPERS.md, taken as it stands there."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config

from benchrecord.cli import main
from folders import write

RECIPE = re.findall(r"```python\n(.+?)```", (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8"), re.DOTALL)[0]
CHECK = "- {id: belts, title: Belts, kind: stretch, module: deck, file: belts.csv, limit: 3 %}\n"
TABLE = "item,new_mm,as_found,as_left\nmotor belt,210,222,211\nidler spring,18,18.2,18.2\n"


@pytest.fixture
def stretched(job: Path, tmp_path: Path) -> tuple[Path, Path]:
    """Return a job with a check of the new kind, and the file of the kind."""
    (tmp_path / "stretch.py").write_text(RECIPE, "utf-8")
    modules = "title: T\npublish: yes\nmodules: [{id: deck, title: Deck}]\n"
    return write(job, {"job.yml": modules, "checks.yml": CHECK, "measurements/belts.csv": TABLE}), tmp_path / "stretch.py"


def test_without_the_file_the_kind_is_unknown(stretched: tuple[Path, Path]) -> None:
    result = CliRunner().invoke(main, ["check", str(stretched[0])])
    assert result.exit_code == 1
    assert "unknown-kind" in result.output


def test_its_columns_are_read_and_held_to_their_units(stretched: tuple[Path, Path]) -> None:
    job, kind = stretched
    write(job, {"measurements/belts.csv": "item,new_mm,as_fuond\nbelt,3 V,1\n"})
    result = CliRunner().invoke(main, ["check", str(job), "--kind", str(kind)])
    assert "write as_found" in result.output
    assert "a value in mm" in result.output


def test_its_verdict_is_among_the_findings(stretched: tuple[Path, Path]) -> None:
    job, kind = stretched
    result = CliRunner().invoke(main, ["findings", str(job), "--kind", str(kind), "--json"])
    (check,) = json.loads(result.output)["checks"]
    assert (check["as_found"]["verdict"], check["as_left"]["verdict"]) == ("out", "in")
    assert check["as_found"]["items"][0]["results"]["stretch_percent"] == pytest.approx(100 * 12 / 210)


def test_its_chart_stands_on_the_page_of_its_module(stretched: tuple[Path, Path], tmp_path: Path) -> None:
    job, kind = stretched
    made = CliRunner().invoke(main, ["build", str(job), "--kind", str(kind), "--site-dir", str(tmp_path / "site")])
    assert made.exit_code == 0, made.output
    page = (tmp_path / "site/jobs/small/modules/deck.html").read_text("utf-8")
    assert "<svg" in page.split('id="check-belts"')[1]
    assert "motor belt" in page
    assert (tmp_path / "site/jobs/small/data/belts.csv").is_file()


@pytest.mark.usefixtures("stretched")
def test_mkdocs_yml_may_name_the_file_too(tmp_path: Path) -> None:
    (tmp_path / "docs").mkdir()
    config = "site_name: T\nuse_directory_urls: false\nplugins:\n  - benchrecord-jobs: {folders: [small], kinds: [stretch.py]}\n  - benchrecord-links\n"
    (tmp_path / "mkdocs.yml").write_text(config, "utf-8")
    mkdocs_build(load_config(str(tmp_path / "mkdocs.yml")))
    assert "motor belt" in (tmp_path / "site/jobs/small/modules/deck.html").read_text("utf-8")
