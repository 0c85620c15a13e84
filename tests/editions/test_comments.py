"""Comments in the words of a job: whatever text of it holds one, no reader's job does."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.checks import all_kinds, schemas
from benchrecord.editions import for_reader
from benchrecord.editions.comments import NOT_WORDS, uncommented
from benchrecord.editions.traces import every
from benchrecord.intake import read_job
from benchrecord.intake.beside import beside
from benchrecord.model.job import Edition, Job
from benchrecord.problems import Place
from folders import write
from small_jobs import SMALL_JOB

HIDDEN = "Zebulon"
WAYS: dict[str, Callable[[str], str]] = {
    "behind": lambda text: f"{text} <!-- {HIDDEN} -->",
    "before": lambda text: f"<!--{HIDDEN}-->{text}",
    "twice": lambda text: f"<!-- {HIDDEN} -->{text}<!-- {HIDDEN}\\n{HIDDEN} -->",
    "never closed": lambda text: f"{text}<!-- {HIDDEN}",
    "closed early": lambda text: f"{text}<!-- {HIDDEN} -- > {HIDDEN} -->",
}


def every_text(part: Any, change: Callable[[str], str]) -> Any:
    """Change each text of a job, wherever it stands, but for names of files and the bodies of notes."""
    if isinstance(part, str) and not isinstance(part, Enum):
        return change(part) if part else part
    if is_dataclass(part) and not isinstance(part, Place | type):
        named = {f.name: getattr(part, f.name) for f in fields(part) if f.name not in NOT_WORDS}
        return replace(part, **{name: every_text(value, change) for name, value in named.items()})
    if isinstance(part, tuple):
        return tuple(every_text(item, change) for item in part)
    if isinstance(part, Mapping):
        return {name: every_text(value, change) for name, value in part.items()}
    return part


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Job:
    patch = "- {id: a, title: Lead, connections: [{from: out, to: in}], settings: {cutoff: '4'}}\n"
    files = {
        **SMALL_JOB,
        "patches.yml": patch,
        "trims.csv": "ref,function\nRV1,scale\n",
        "date-codes.csv": "ref,code,note\nR2,7712,seen\n",
    }
    job, _ = read_job(write(tmp_path_factory.mktemp("job"), files), schemas(all_kinds()))
    assert job
    return job


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("reader", Edition)
def test_no_reader_comes_upon_a_comment(whole: Job, reader: Edition, way: str) -> None:
    commented = every_text(whole, WAYS[way])
    assert repr(commented).count(HIDDEN) > 50
    assert HIDDEN not in repr(for_reader(commented, reader))
    assert for_reader(commented, reader) == for_reader(whole, reader)


def test_what_stands_beside_a_comment_is_no_secret_and_the_comment_is(tmp_path: Path) -> None:
    caption = f"As it came to us on that day <!-- {HIDDEN} came with it -->"
    folder = write(
        tmp_path,
        {
            "photos.csv": f"file,caption\na.jpg,{caption}\n",
            "photos/a.jpg": picture(),
            "patches.yml": f"- {{id: a, title: 'Lead <!-- {HIDDEN} -->'}}\n",
        },
    )
    job, _ = read_job(folder, {})
    assert job
    assert HIDDEN not in " ".join(leaf.value for leaf in every(job))
    assert [b.file for b in beside(folder) if b.what == "comment" and HIDDEN in b.text] == ["patches.yml", "photos.csv"]


def picture() -> bytes:
    from PIL import Image  # noqa: PLC0415  # only here

    Image.new("RGB", (8, 8)).save(out := io.BytesIO(), "JPEG")
    return out.getvalue()


@given(st.lists(st.sampled_from(["<!--", "-->", "<!-", "->", " ", "a", "b c", "\n"]), max_size=12).map("".join))
def test_any_text_comes_to_words_without_a_comment(text: str) -> None:
    assert "<!--" not in uncommented(text)
    assert text == uncommented(text) or "<!--" in text


def test_many_openings_take_no_longer_than_one() -> None:
    assert uncommented("a" + "<!-- " * 200_000) == "a"
