"""Hand-written pages are read in a bounded time and depth, or named with the line where it is too much."""

from __future__ import annotations

from pathlib import Path

import pytest
from markdown import Markdown
from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.exceptions import Abort

from benchrecord.intake.crosscheck_notes import MAX_DEFINITIONS
from benchrecord.publish.page_limits import MAX_UNCLOSED, page_problems
from folders import write
from scaling import adversarial, growing_too_fast

HEAD = "# A page\n\nWords.\n\n"
TAGS = ["<a ", '<a href="', "<div class=x ", "<b\n", "<![CDATA[", "<![CDATA[ x "]


def found(text: str) -> list[tuple[str, int | None]]:
    return [(p.code, p.place.line) for p in page_problems(text, "docs/a.md")]


@pytest.mark.parametrize("tag", TAGS)
def test_the_first_tag_that_is_too_many_is_named(tag: str) -> None:
    assert found(HEAD + tag * MAX_UNCLOSED) == []
    assert [code for code, _ in found(HEAD + tag * (MAX_UNCLOSED + 1))] == ["unclosed-tags"]
    assert found(HEAD + f"{tag}\n\n" * MAX_UNCLOSED + tag)[0][1] == 5 + (MAX_UNCLOSED * f"{tag}\n\n".count("\n"))


@pytest.mark.parametrize(
    "text",
    [
        "<a href='x'>b</a> " * 500,
        "a < b, 3 <4. " * 500,
        "```\n" + "<a " * 500 + "\n```\n",
        "`<a ` " * 500,
        "<!-- <a " + "<a " * 500 + "-->",
        "<br>\n" * 500,
    ],
    ids=["links", "less than", "fenced", "code", "comment", "breaks"],
)
def test_what_is_closed_or_is_no_tag_is_as_much_as_one_likes(text: str) -> None:
    assert found(HEAD + text) == []


@pytest.mark.parametrize("definition", ["a\n: b\n", "a\n:   b\n", ": b\n"])
def test_definitions_in_one_run_are_bounded_and_within_the_bound_they_are_read(definition: str) -> None:
    assert found(HEAD + definition * (MAX_DEFINITIONS + 1)) == [("long-paragraph", 5)]
    assert found(HEAD + f"{definition}\n" * 1000) == []
    assert Markdown(extensions=["def_list"]).convert(f"a\n{definition * MAX_DEFINITIONS}").count("<dd>") > 0


def test_a_page_that_is_too_much_stops_the_build_with_its_line(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, job: Path
) -> None:
    write(tmp_path / "docs", {"index.md": HEAD + "<a " * 500, "b.md": HEAD + "a\n: b\n" * 3000})
    (tmp_path / "docs/job.yml").unlink()
    yml = f"site_name: T\nmarkdown_extensions: [def_list]\nplugins: [benchrecord-jobs: {{folders: [{job}]}}]\n"
    (tmp_path / "mkdocs.yml").write_text(yml, "utf-8")
    with pytest.raises(Abort):
        build(load_config(str(tmp_path / "mkdocs.yml")))
    assert "docs/index.md\n  line 5, column 301: error unclosed-tags" in caplog.text
    assert "docs/b.md\n  line 5: error long-paragraph" in caplog.text


@pytest.mark.slow
def test_looking_at_a_page_takes_time_in_proportion_to_its_length() -> None:
    assert growing_too_fast(lambda text: [*page_problems(text, "a.md")], adversarial(), 20_000) == []
