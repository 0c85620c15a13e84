"""Impedance: two levels and a resistor, with limits of its own for each item."""

from __future__ import annotations

import pytest
from uncertainties import ufloat

from benchrecord.checks import all_kinds
from benchrecord.model.findings import CheckFinding, Item, Verdict
from checks.conftest import Worked

KIND = all_kinds()["impedance"]
HEAD = "item,method,resistor_ohm,as_found_without,as_found_with,as_left_without,as_left_with,low,high\n"
METERED = "kind: impedance, meter: dmm"


def left(finding: CheckFinding, n: int = 0) -> Item:
    assert finding.left
    return finding.left.items[n]


def ohm(item: Item) -> float:
    value = item.results["impedance_ohm"].value
    assert isinstance(value, float)
    return value


def test_input_and_output_by_hand(worked: Worked) -> None:
    """R·with/(without − with) = 10k·0.8/0.2; R·(without − with)/with = 1k·0.5/2: results.md."""
    finding = worked("kind: impedance", HEAD + "in,input,10k,,,1.0,0.8,35k,45k\nout,output,1k,,,2.5,2.0,,200\n")
    assert [ohm(left(finding, n)) for n in (0, 1)] == pytest.approx([40e3, 250.0])
    assert [left(finding, n).verdict for n in (0, 1)] == [Verdict.IN, Verdict.OUT]
    assert left(finding, 1).results["margin"].value == pytest.approx(-50)
    assert finding.plain == "As left, 1 of 2 impedances is within limits."
    assert finding.left
    assert finding.left.worst == "out has 250 Ω, 50 Ω beyond its limit"
    assert "Input: R·with/(without − with), the resistor R in series; output:" in finding.method


def test_the_uncertainty_is_propagated_from_levels_and_resistor(worked: Worked) -> None:
    """The library `uncertainties` is the second witness; the meter's ranges are those of the fixture, U = 2·limit/√3."""
    finding = worked(METERED, HEAD + "in,input,47k,,,1.000,0.500,40k,60k\n")
    a, b, r = (
        ufloat(x, (p / 100 * x + c) / 3**0.5) for x, p, c in ((1.0, 0.05, 0.003), (0.5, 0.05, 0.003), (47e3, 0.2, 300.0))
    )
    witness = r * b / (a - b)
    assert left(finding).results["expanded_uncertainty"].value == pytest.approx(2 * witness.s, rel=1e-9)
    assert "that of the resistor comes from the meter's range for ohms" in finding.basis
    assert "fell from 1.000 V to 0.500 V, which makes 47.0 kΩ" in finding.basis


def test_a_tolerance_stands_for_the_resistor(worked: Worked) -> None:
    finding = worked(f"{METERED}, resistor_tolerance: 5 %", HEAD + "in,input,47k,,,1.000,0.500,40k,60k\n")
    a, b, r = (ufloat(x, u) for x, u in ((1.0, 0.0035 / 3**0.5), (0.5, 0.00325 / 3**0.5), (47e3, 0.05 * 47e3 / 3**0.5)))
    assert left(finding).results["expanded_uncertainty"].value == pytest.approx(2 * (r * b / (a - b)).s, rel=1e-9)
    assert "its tolerance of 5 %" in finding.basis


@pytest.mark.parametrize(
    ("without", "with_resistor"),
    [
        ("0 dBu", "-6.0206 dBu"),
        ("0 dB", "-6.0206 dB"),
        ("-10 dBV", "-16.0206 dBV"),
        ("0.7746", "-6.0206 dBu"),
        ("775 mV", "0.3875 V"),
    ],
)
def test_levels_may_be_written_in_decibels(worked: Worked, without: str, with_resistor: str) -> None:
    """6.0206 dB are half: 20·log10(2), exact."""
    finding = worked("kind: impedance", HEAD + f"in,input,10k,,,{without},{with_resistor},,\n")
    assert ohm(left(finding)) == pytest.approx(10e3, rel=3e-4)
    assert left(finding).verdict is Verdict.INFORMATION


@pytest.mark.parametrize(
    ("levels", "said"),
    [
        ("1.0,1.0", "in: the resistor does not lower the level; measure with a larger one."),
        ("1.0,0.999", "in: the resistor lowers the level by no more than is uncertain; measure with a larger one."),
        ("1.0,-3 dB", "in: its two levels are not written in one unit."),
        ("1.0,0", "in: a level of nothing tells no impedance."),
    ],
)
def test_levels_that_tell_nothing_are_told_of(worked: Worked, levels: str, said: str) -> None:
    finding = worked(METERED, HEAD + f"in,input,10k,,,{levels},8k,12k\n")
    assert left(finding).verdict is Verdict.NOT_MEASURED
    assert left(finding).results["impedance_ohm"].value is None
    assert finding.advice == said
    assert finding.plain.startswith("In could not be told: ")
    assert KIND.chart(finding) is None


def test_a_job_in_progress(worked: Worked) -> None:
    finding = worked("kind: impedance", HEAD + "line out,output,1k,2.2,2.0,,,,150\n")
    assert finding.left is None
    assert finding.plain == "Line out has an impedance of 100 Ω as found."
    assert worked("kind: impedance", HEAD + "line out,output,1k,2.2,2.0,2.2,2.1,,150\n").plain == (
        "Line out has an impedance of 47.6 Ω; it was 100 Ω."
    )
    assert worked("kind: impedance", HEAD + "line out,output,1k,,,,,,150\n").plain == "Not measured yet."


def test_too_close_to_call_advises_a_better_resistor(worked: Worked) -> None:
    finding = worked(METERED, HEAD + "out,output,10k,,,1.000,0.986,,150\n")
    assert left(finding).verdict is Verdict.TOO_CLOSE
    assert "near the impedance itself" in finding.advice


def test_a_limit_of_the_whole_check_is_not_guessed_at(worked: Worked) -> None:
    finding = worked("kind: impedance, limit: 150 ohm", HEAD + "out,output,1k,,,2.2,2.0,,\n", problems=["unused-limit"])
    assert finding.verdict is Verdict.INFORMATION


def test_the_chart_tells_what_it_shows(worked: Worked) -> None:
    table = HEAD + "in,input,10k,1.0,0.5,1.0,0.8,35k,45k\nout,output,1k,,,2.5,2.4,,200\n"
    drawn = KIND.chart(worked("kind: impedance", table))
    assert drawn
    assert "2 impedances as found and as left" in drawn.alt
    assert "As left, 2 of 2 impedances are within limits" in drawn.caption
