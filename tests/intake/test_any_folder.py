"""Whatever lies in a folder, reading it ends with a list; nothing raises and no line is named that is not there."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchrecord.checks import all_kinds, schemas
from benchrecord.intake import read_job
from benchrecord.problems import as_text
from folders import contents, write

SAMPLE = Path(__file__).parents[2] / "sample_job"
KINDS = schemas(all_kinds())
TEXTS = {name: data for name, data in contents(SAMPLE).items() if name.endswith((".yml", ".csv", ".md"))}
SCRAPS = st.binary(max_size=6) | st.sampled_from(
    [b"", b"\n", b",", b";", b'"', b":", b"- ", b"{", b"]", b"---\n", b"\t", b"#", b"\xef\xbb\xbf", b"\0", b"R1", b"1e999", b"*a", b"&a ", b"~", b"[]", b"../"]
)  # fmt: skip
CHANGES = st.lists(
    st.tuples(st.sampled_from(sorted(TEXTS)), st.floats(0, 1), st.integers(0, 40), SCRAPS), min_size=1, max_size=6
)


def test_the_sample_has_files_of_every_kind() -> None:
    assert {"job.yml", "checks.yml", "parts.csv", "trims.csv", "boards/psu.yml", "boards/psu.csv"} <= set(TEXTS)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(CHANGES)
def test_a_good_job_with_anything_changed_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, changes: list[tuple[str, float, int, bytes]]
) -> None:
    files: dict[str, str | bytes] = {**TEXTS}
    for name, where, gone, scrap in changes:
        data = bytes(files[name])  # type: ignore[arg-type]  # bytes, all of them
        at = int(where * len(data))
        files[name] = data[:at] + scrap + data[at + gone :]
    folder = write(tmp_path_factory.mktemp("any") / "job", files)
    _, problems = read_job(folder, KINDS)
    assert as_text(problems).encode("utf-8") or not problems
    for problem in problems:
        if problem.place.line is not None:
            data = (folder / problem.place.file).read_bytes()
            assert 1 <= problem.place.line <= data.count(b"\n") + data.count(b"\r") + 2, problem
