"""A limit that nothing is held against is a problem, whatever the kind of check."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchrecord.checks import all_kinds
from benchrecord.problems import Place
from benchrecord.publish.work import read_all
from folders import write
from sounds import RATE, seconds, write_sound

TABLES = {
    "impedance.csv": "item,method,resistor_ohm,as_left_without,as_left_with,low,high\noutput,output,1000,2 V,1 V,,2000\n",
    "stages.csv": "stage,as_left_s,low,high\nattack,0.1,,\n",
    "timed.csv": "stage,as_left_s,low,high\nattack,0.1,0.05,0.2\n",
    "levels.csv": "input,as_left\n0,0 V\n1,1 V\n2,2 V\n",
    "warm.csv": "minutes,as_left\n0,440 Hz\n10,441 Hz\n20,441 Hz\n",
    "hz.csv": "hz,as_left_db\n20,0\n100,0\n1000,-3\n4000,-20\n",
}


def problems_of(folder: Path, check: str) -> list[tuple[str, Place, str]]:
    files: dict[str, str | bytes] = {
        "job.yml": "title: A job\nowner: none\n",
        "checks.yml": f"- {{id: own, title: Own, {check}}}\n",
    }
    (folder / "recordings").mkdir()
    write_sound(folder / "recordings/one.wav", np.sin(2 * np.pi * 440 * seconds(1)) / 2, rate=RATE)
    write(folder, files | {f"measurements/{name}": text for name, text in TABLES.items()})
    _, problems = read_all([folder], all_kinds())
    return [(p.code, p.place, p.expected) for p in problems]


@pytest.mark.parametrize(
    ("check", "needed"),
    [
        (
            "kind: spectrum, as_left: recordings/one.wav, limit: -60 dB",
            "a limit in %, of distortion, or in cents or Hz, of its pitch",
        ),
        ("kind: spectrum, as_left: recordings/one.wav, expect: pulse, limit: 3 dB", "a limit in %, of the shape of a wave"),
        (
            "kind: spectrum, as_left: recordings/one.wav, limit: 5 cents",
            "nominal_hz, the frequency about which 5 cents are allowed",
        ),
        ("kind: spectrum, as_left: recordings/one.wav, expect: noise, limit: 3 %", "a limit in dB, of the slope of noise"),
        ("kind: decay, as_left: recordings/one.wav, limit: 5 %", "wanted_s, the decay time that is wanted"),
        ("kind: envelope, as_left: recordings/one.wav, limit: 5 %", "wanted, or low and high of a stage"),
        ("kind: envelope, file: stages.csv, limit: 5 %", "wanted, or low and high of a stage"),
        ("kind: impedance, file: impedance.csv, limit: 5 %", "low and high of each item"),
        ("kind: response, file: hz.csv, low_pass: yes, limit: 5 %", "low_pass or high_pass with the cut-off that is wanted"),
        ("kind: transfer, file: levels.csv, limit: 3 cents", "a limit of departures in V"),
        ("kind: warm-up, file: warm.csv, limit: 3 V", "a limit of readings in Hz"),
        ("kind: date-codes, limit: 3 %", "no limit"),
    ],
)
def test_a_limit_that_nothing_is_held_against_is_a_problem(tmp_path: Path, check: str, needed: str) -> None:
    ((code, place, expected),) = (p for p in problems_of(tmp_path, check) if p[0] == "unused-limit")
    assert code == "unused-limit"
    assert place.file == "checks.yml"
    assert place.line == 1
    assert expected.startswith(needed)


@pytest.mark.parametrize(
    "check",
    [
        "kind: spectrum, as_left: recordings/one.wav, limit: 1 %",
        "kind: spectrum, as_left: recordings/one.wav, nominal_hz: 440, limit: 5 cents",
        "kind: spectrum, as_left: recordings/one.wav, expect: noise, limit: 3 dB",
        "kind: decay, as_left: recordings/one.wav, wanted_s: 2, limit: 5 %",
        "kind: envelope, as_left: recordings/one.wav, wanted: {attack: [0.001, 5]}, limit: 5 %",
        "kind: envelope, file: timed.csv, limit: 5 %",
        "kind: response, file: hz.csv, low_pass: 1000, limit: 5 %",
        "kind: response, file: hz.csv, low_pass: yes, limit: 3 dB",
        "kind: transfer, file: levels.csv, limit: 2 %",
        "kind: warm-up, file: warm.csv, limit: 3 cents",
    ],
)
def test_a_limit_that_something_is_held_against_is_none(tmp_path: Path, check: str) -> None:
    assert [p for p in problems_of(tmp_path, check) if p[0] == "unused-limit"] == []
