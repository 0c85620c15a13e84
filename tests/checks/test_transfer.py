"""Transfer: gain laws, pan controls, controllers of two axes and meters, by hand and with what the meter leaves uncertain."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.checks import all_kinds
from benchrecord.figures.chart import draw
from benchrecord.model.findings import CheckFinding, Item, Side, Value, Verdict
from checks.conftest import Worked

KIND = all_kinds()["transfer"]
HEAD = "input,as_found,as_left\n"
STRAIGHT = HEAD + "0,0.5,0.0\n1,1.0,1.0\n2,2.0,2.0\n3,3.0,3.1\n4,5.0,4.0\n"
LINEAR = "kind: transfer, law: linear, input_unit: V, output_unit: V"


def left(finding: CheckFinding) -> Side:
    assert finding.left
    return finding.left


def value(results: Side | Item, name: str) -> float:
    found = results.results[name].value
    assert isinstance(found, float), (name, results.results[name])
    return found


def reason(results: Side | Item, name: str) -> str:
    assert results.results[name].value is None
    return results.results[name].reason


def test_a_linear_law_by_hand(worked: Worked) -> None:
    """Least squares on (0,0) (1,1) (2,2) (3,3.1) (4,4): slope 1.01, offset 0.0, largest departure 0.07 at 3."""
    side = left(worked(LINEAR, STRAIGHT))
    assert value(side, "slope") == pytest.approx(1.01)
    assert value(side, "worst_departure") == pytest.approx(0.07)
    assert value(side, "worst_at") == 3
    assert value(side, "worst_percent") == pytest.approx(100 * 0.07 / 4.0)
    assert side.results["slope"].unit == "V/V"
    assert side.verdict is Verdict.INFORMATION


def test_the_range_is_what_the_law_is_asked_for(worked: Worked) -> None:
    side = left(worked(f"{LINEAR}, range: [0, 2]", STRAIGHT))
    assert value(side, "slope") == pytest.approx(1.0)
    assert value(side, "worst_departure") == pytest.approx(0.0, abs=1e-12)
    assert "least squares from 0 V to 2 V" in worked(f"{LINEAR}, range: [0 V, 2 V]", STRAIGHT).method


def test_a_range_that_is_none_is_a_problem(worked: Worked) -> None:
    worked(f"{LINEAR}, range: all of it", STRAIGHT, problems=["wrong-type"])
    worked(f"{LINEAR}, range: [2, 0]", STRAIGHT, problems=["limits-reversed"])


@pytest.mark.parametrize(
    ("limit", "verdict"),
    [
        ("0.1 V", Verdict.IN),
        ("60 mV", Verdict.OUT),
        ("0.06", Verdict.OUT),
        ("2 %", Verdict.IN),
        ("1 %", Verdict.OUT),
        ("1 dB", Verdict.INFORMATION),
    ],
)
def test_a_limit_counts_in_the_output_s_unit_or_in_parts_of_full_scale(worked: Worked, limit: str, verdict: Verdict) -> None:
    problems = ["unused-limit"] if verdict is Verdict.INFORMATION else []
    finding = worked(f"{LINEAR}, limit: {limit}", STRAIGHT, problems=problems)
    assert finding.verdict is verdict
    if verdict is Verdict.OUT:
        assert left(finding).worst == "+0.1 V at 3 V, out of limits"


def value_or_none(side: Side, name: str) -> object:
    return side.results[name].value


def test_an_even_gain_in_decibels(worked: Worked) -> None:
    """Ten times the voltage are 20 dB: output 10^(x − 5) V is a law of 20 dB/V; 0.01 V of 10 V when shut are 60 dB."""
    table = HEAD + "".join(f"{x},,{0.01 if x == 0 else 10 ** (x - 4)!r}\n" for x in range(6))
    side = left(worked("kind: transfer, law: decibel, input_unit: V, output_unit: V, off_at: 0", table))
    assert value(side, "slope") == pytest.approx(20.0)
    assert side.results["slope"].unit == "dB/V"
    assert value(side, "worst_departure") == pytest.approx(0.0, abs=1e-9)
    assert value(side, "isolation_db") == pytest.approx(60.0)


def test_levels_written_in_decibels_are_taken_as_they_are(worked: Worked) -> None:
    finding = worked("kind: transfer, law: decibel, off_at: 0", HEAD + "0,,-80\n2,,-32\n4,,-24\n6,,-16\n8,,-7\n10,,0\n")
    assert value(left(finding), "isolation_db") == 80
    assert value(left(finding), "slope") == pytest.approx(4.05)
    assert finding.plain == "As left, the gain keeps to even steps in decibels within 1 dB. Shut, it falls by 80.0 dB."


def test_nothing_at_all_when_shut_is_no_isolation_but_no_fault(worked: Worked) -> None:
    finding = worked("kind: transfer, law: decibel, output_unit: V, off_at: 0", HEAD + "0,,0\n1,,0.1\n2,,1\n3,,10\n")
    assert reason(left(finding), "isolation_db") == "nothing is left that the meter can tell"
    assert value(left(finding), "slope") == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("keys", "table", "said"),
    [
        ("law: linear", HEAD + "1,,1\n2,,2\n3,,3\n", "nothing says at which input it is shut"),
        ("law: linear", HEAD + "-1,,1\n0,,0\n1,,3\n", "nothing says at which input it is shut"),
        ("law: linear, off_at: 5", HEAD + "1,,1\n2,,2\n3,,3\n", "no reading at 5"),
    ],
)
def test_isolation_needs_a_reading_where_it_is_shut(worked: Worked, keys: str, table: str, said: str) -> None:
    assert reason(left(worked(f"kind: transfer, {keys}", table)), "isolation_db") == said


def test_a_dead_zone_that_is_gone(worked: Worked) -> None:
    rows = "".join(f"{x},{0.2 * (x - 4 if x > 4 else x + 4 if x < -4 else 0):.3f},{0.2 * x:.3f}\n" for x in range(-24, 25, 2))
    finding = worked("kind: transfer, input_unit: deg, output_unit: V", HEAD + rows)
    assert finding.found
    assert value(finding.found, "dead_zone") == pytest.approx(8.0)
    assert value(left(finding), "dead_zone") == 0
    assert finding.plain.endswith("As found nothing changed over 8.0 ° of its travel; as left there is no such zone.")


AXES = "input,channel,as_left\n" + "".join(
    f"{x},{axis},{gain * x + rest:.2f}\n"
    for axis, gain, rest in (("x", 0.2, 0.02), ("y", 0.19, -0.1))
    for x in (-25, -10, 0, 10, 25)
)


def test_a_controller_of_two_axes(worked: Worked) -> None:
    side = left(worked("kind: transfer, input_unit: deg, output_unit: V, limit: 0.05 V", AXES))
    x, y = side.items
    assert [i.item for i in (x, y)] == ["x", "y"]
    assert [value(x, n) for n in ("lowest", "highest", "centre_offset", "slope")] == pytest.approx([-4.98, 5.02, 0.02, 0.2])
    assert value(y, "centre_offset") == pytest.approx(-0.1)
    assert reason(side, "slope") == "each channel has its own"
    assert "channel_match" not in side.results
    assert side.verdict is Verdict.IN


def test_the_worse_channel_is_the_check_s_and_is_named(worked: Worked) -> None:
    rows = [(n, "left", -40 + 4 * n, -40 + 4 * n) for n in range(1, 11)] + [
        (n, "right", -40 + 4 * n - (6 if n < 5 else 0), -39.5 + 4 * n) for n in range(1, 11)
    ]
    table = "input,channel,as_found,as_left\n" + "".join(f"{a},{b},{c:.1f},{d:.1f}\n" for a, b, c, d in rows)
    finding = worked("kind: transfer, law: decibel, output_unit: dB, limit: 1 dB", table)
    assert finding.found
    assert [i.verdict for i in finding.found.items] == [Verdict.IN, Verdict.OUT]
    assert finding.found.worst.startswith("right: ")
    assert value(finding.found, "channel_match") == pytest.approx(6.0)
    assert value(left(finding), "channel_match") == pytest.approx(0.5)
    assert "The channels are apart by at most 0.50 dB." in finding.method


def panned(law: float, dip: float = 0.0) -> str:
    """Return a pan control of eleven positions whose amplitudes to the power ``law`` make an even sum, both sides lower in the middle."""
    lines = []
    for x in np.linspace(-5, 5, 11):
        right = np.clip((x + 5) / 10, 1e-6, 1 - 1e-6)
        lower = dip * (1 - abs(x) / 5)
        lines += [
            f"{x:g},left,{20 / law * np.log10(1 - right) - lower:.3f}",
            f"{x:g},right,{20 / law * np.log10(right) - lower:.3f}",
        ]
    return "input,channel,as_left\n" + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("law", "dip", "middle", "side"), [(2, 0.0, 0.0, -3.01), (1, 0.0, -3.01, -6.02), (2, 1.5, -1.5, -4.51)]
)
def test_a_pan_control_is_told_by_the_sum_of_its_sides_and_its_dip(
    worked: Worked, law: float, dip: float, middle: float, side: float
) -> None:
    """Even power leaves each side 3.01 dB down in the middle, even voltage 6.02 dB and a dip of 3.01 dB: exact."""
    found = left(worked("kind: transfer, law: pan, limit: 1 dB", panned(law, dip)))
    assert value(found, "middle_db") == pytest.approx(middle, abs=0.01)
    assert value(found, "left_in_middle_db") == pytest.approx(side, abs=0.01)
    assert value(found, "worst_departure") == pytest.approx(-middle, abs=0.01)
    assert found.verdict is (Verdict.IN if middle > -1 else Verdict.OUT)
    assert reason(found, "slope") == "a pan control has no single slope"
    assert value(found, "isolation_db") > 50


def test_a_pan_control_needs_both_sides(worked: Worked) -> None:
    finding = worked("kind: transfer, law: pan", "input,channel,as_left\n-5,left,0\n0,left,-3\n5,left,-60\n")
    assert left(finding).verdict is Verdict.NOT_MEASURED
    assert finding.plain == "Not worked out: a pan control needs the channels left and right."
    assert KIND.chart(finding) is None


def test_a_meter_is_held_to_the_truth_and_not_to_its_own_line(worked: Worked) -> None:
    table = HEAD + "0,0.5,0.0\n5,5.5,5.0\n10,10.5,10.1\n"
    finding = worked("kind: transfer, law: meter, input_unit: V, output_unit: V, limit: 2 %", table)
    assert finding.found
    assert value(finding.found, "worst_departure") == pytest.approx(0.5)
    assert value(finding.found, "worst_percent") == pytest.approx(5.0)
    assert [s.verdict for s in (finding.found, left(finding))] == [Verdict.OUT, Verdict.IN]
    assert finding.plain.startswith("As left, the meter shows what is true within 0.1 V; as found it was 0.5 V.")


def test_a_nominal_slope_tells_a_meter_s_truth_and_a_gain_s_error(worked: Worked) -> None:
    meter = worked(
        "kind: transfer, law: meter, input_unit: mA, output_unit: V, nominal_slope: 0.1", HEAD + "0,,0\n50,,5.1\n100,,10\n"
    )
    assert value(left(meter), "worst_departure") == pytest.approx(0.1)
    gain = worked(f"{LINEAR}, nominal_slope: 1", STRAIGHT)
    assert value(left(gain), "slope_error_percent") == pytest.approx(1.0)
    assert "differs from the nominal one by +1.00 %" in gain.method


@pytest.mark.parametrize("law", ["linear", "decibel, output_unit: dB"])
def test_a_slope_that_is_not_the_nominal_one_is_judged(worked: Worked, law: str) -> None:
    """A perfectly straight output of 1.2 for 1 is 0.4 off at both ends of 0 to 4, where the mean lies in the middle."""
    table = HEAD + "".join(f"{x},{x},{1.2 * x:.1f}\n" for x in range(5))
    finding = worked(f"kind: transfer, law: {law}, nominal_slope: 1, limit: 0.1", table)
    assert finding.found
    assert [s.verdict for s in (finding.found, left(finding))] == [Verdict.IN, Verdict.OUT]
    assert value(left(finding), "worst_departure") == pytest.approx(0.4)
    assert value(left(finding), "slope") == pytest.approx(1.2)
    assert "the line of the nominal slope, 1" in finding.method


def test_an_input_of_zero_is_not_taken_for_shut(worked: Worked) -> None:
    finding = worked("kind: transfer, law: linear, output_unit: V", HEAD + "0,,0.0001\n1,,1\n2,,2\n")
    assert value_or_none(left(finding), "isolation_db") is None
    assert "falls by" not in finding.plain


def test_units_in_cells_are_brought_to_the_stated_ones(worked: Worked) -> None:
    finding = worked(LINEAR, HEAD + "0 mV,,0 mV\n1000 mV,,1000 mV\n2 V,,2 V\n")
    assert value(left(finding), "slope") == pytest.approx(1.0)
    assert finding.table.columns == (
        "Input in V",
        "As found in V",
        "Departure as found in V",
        "As left in V",
        "Departure as left in V",
    )


def test_what_the_meter_leaves_uncertain(worked: Worked) -> None:
    """u² = Σ(δ − h)²u² for a departure; for five even readings h in the middle is 1/5. U of a reading as in the fixture's ranges."""
    finding = worked(f"{LINEAR}, meter: dmm, limit: 0.06 V", HEAD + "0,,5.0\n1,,5.0\n2,,5.1\n3,,5.0\n4,,5.0\n")
    u = np.array([2 * (0.0005 * y + 0.003) / 3**0.5 for y in (5.0, 5.0, 5.1, 5.0, 5.0)])
    weights = np.array([0.2, 0.2, -0.8, 0.2, 0.2])
    assert value(left(finding), "expanded_uncertainty") == pytest.approx(np.hypot.reduce(weights * u))
    assert left(finding).verdict is Verdict.OUT
    assert "for its reading and for those it is held to: 0.0057 V where it is largest" in finding.basis


def test_stated_uncertainties_cover_in_95_of_100(worked: Worked) -> None:
    """Readings scattered within the meter's limits of error: slope and departure within U, and U at most 3 times 2·rms."""
    rng, hits, seen, stated = np.random.default_rng(7), [], [], []
    x = np.linspace(0, 10, 9)
    bend = 0.05 * np.sin(x)
    truth = np.polyfit(x, 1.5 * x + bend, 1)
    away = 1.5 * x + bend - np.polyval(truth, x)
    for _ in range(40):
        y = 1.5 * x + bend
        read = y + rng.uniform(-1, 1, 9) * (0.0005 * y + 0.003)
        side = left(worked(f"{LINEAR}, meter: dmm", HEAD + "".join(f"{a:g},,{b:.5f}\n" for a, b in zip(x, read, strict=True))))
        for name, true in (("slope", truth[0]), ("worst_departure", np.abs(away).max())):
            error = value(side, name) - float(true)
            seen.append((name, error))
            stated.append((name, side.results[name].uncertainty or 0.0))
            hits.append(abs(error) <= (side.results[name].uncertainty or 0.0))
    assert np.mean(hits) >= 0.95
    for name in ("worst_departure",):  # the bend itself widens the slope's
        rms = np.sqrt(np.mean([e * e for n, e in seen if n == name]))
        assert np.mean([u for n, u in stated if n == name]) <= 3 * 2 * rms


def test_a_job_in_progress_and_one_not_begun(worked: Worked) -> None:
    finding = worked(LINEAR, HEAD + "0,0.5,\n1,1.0,\n2,2.0,\n")
    assert finding.left is None
    assert finding.plain.startswith(
        "As found, the output keeps to a straight line within 0.2 V; it is not measured as left yet."
    )
    assert worked(LINEAR, HEAD + "0,,\n").plain == "Not measured yet."


def test_one_reading_is_no_law(worked: Worked) -> None:
    finding = worked(LINEAR, HEAD + "1,,1\n")
    assert finding.plain == "Not worked out: fewer than two readings at different inputs."
    assert left(finding).results["slope"] == Value(None, reason="fewer than two readings at different inputs")


def test_a_chart_names_the_channels_and_shades_what_is_allowed(worked: Worked) -> None:
    drawn = KIND.chart(worked("kind: transfer, input_unit: deg, output_unit: V, limit: 0.05 V", AXES))
    assert drawn
    svg = draw(drawn, name="n")
    assert ">x</text>" in svg
    assert ">y</text>" in svg
    assert "departure from the law in V over the input in °, as left" in drawn.alt
    assert "nan" not in svg


def test_many_readings_are_kept_in_full_beside_a_short_table(worked: Worked) -> None:
    finding = worked(LINEAR, HEAD + "".join(f"{x / 10},,{x / 10}\n" for x in range(100)))
    assert len(finding.table.rows) == 40
    assert finding.curve
    assert len(finding.curve.rows) == 100
