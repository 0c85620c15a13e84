"""What the demo's recordings tell lies within its stated uncertainty of what the model made them from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest

from benchrecord.bench.reasons import NotHad
from benchrecord.checks import all_kinds, schemas
from benchrecord.findings import work_out
from benchrecord.intake.folder import read_job
from benchrecord.intake.sound_file import opener
from benchrecord.model.findings import CheckFinding, Findings, Results, Verdict
from benchrecord.model.job import Take
from demo_sounds.takes import every

SAMPLE = Path(__file__).parents[2] / "sample_job"
STILL_OUT = ["osc2-tracking", "osc2-steps"]  # the notes say why
TOO_CLOSE = ["reference"]
BURIED = {("spring-found.flac", "t30_s")}  # the floor of the tank as found is too high for it: that is its fault
STEP_S = 0.001  # in which the click of a strike is found; it has no uncertainty


@cache
def truths() -> Mapping[str, Mapping[str, float]]:
    return {f"recordings/{one.file}": one.truth for one in every()}


@cache
def findings() -> Findings:
    kinds = all_kinds()
    job, problems = read_job(SAMPLE, schemas(kinds))
    assert problems == ()
    assert job is not None
    known = opener(SAMPLE, job.recordings)
    return work_out(job, kinds, lambda file: known(file) or NotHad(f"{file} is not there"))


def heard(finding: CheckFinding) -> Iterator[tuple[Take, Results]]:
    """Yield each recording of a check with what was found in it."""
    for take in (t for t in finding.check.takes if t.stage != "reference"):
        side = finding.found if take.stage == "as_found" else finding.left
        assert side is not None, f"{take.file}: nothing was found"
        yield take, next(item.results for item in side.items if item.item == take.at) if take.at else side.results


def recorded() -> list[CheckFinding]:
    return [f for f in findings().checks if f.check.takes]


def test_each_kind_of_check_is_shown_and_worked_out() -> None:
    assert {f.check.kind for f in findings().checks} == set(all_kinds())
    assert len(findings().checks) >= 30
    assert [f.check.id for f in findings().checks if f.verdict is Verdict.NOT_MEASURED] == []


def test_what_is_still_not_right_is_what_the_notes_say() -> None:
    verdicts = {f.check.id: f.verdict for f in findings().checks}
    assert [i for i, v in verdicts.items() if v is Verdict.OUT] == STILL_OUT
    assert [i for i, v in verdicts.items() if v is Verdict.TOO_CLOSE] == TOO_CLOSE


def test_each_recording_is_heard_by_a_check() -> None:
    used = {take.file for f in findings().checks for take in f.check.takes}
    assert used == set(truths())


@pytest.mark.parametrize("kind", ["tracking", "spectrum", "response", "envelope", "decay"])
def test_what_is_found_lies_within_its_uncertainty_of_the_truth(kind: str) -> None:
    held = 0
    for finding in (f for f in recorded() if f.check.kind == kind):
        for take, results in heard(finding):
            for name, truth in truths()[take.file].items():
                own = results[name]
                if (take.file.rpartition("/")[2], name) in BURIED:
                    assert own.value is None
                    continue
                assert isinstance(own.value, float), (take.file, name, own.reason)
                within = STEP_S if name == "predelay_s" else own.uncertainty
                assert within is not None, (take.file, name)
                assert own.value == pytest.approx(truth, abs=within, rel=0), (take.file, name)
                held += 1
    assert held
