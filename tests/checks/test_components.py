"""Components: drift, tolerance, dissipation and load."""

from __future__ import annotations

import pytest

from benchrecord.checks import all_kinds
from benchrecord.model.findings import CheckFinding, Item, Value, Verdict
from benchrecord.model.numbers import shown
from checks.conftest import Worked

HEAD = "ref,marked,tolerance,rating_w,volts,as_found,as_left\n"


def items(finding: CheckFinding, side: str = "found") -> dict[str, Item]:
    found = getattr(finding, side)
    return {i.item: i for i in found.items}


def number(item: Item, name: str) -> float:
    found = item.results[name].value
    assert isinstance(found, float)
    return found


def test_drift_is_against_the_marked_value(worked: Worked) -> None:
    found = items(worked("kind: components", HEAD + "R2,27R,10 %,7,11.2,33.4,27.1\n"))["R2"]
    assert number(found, "drift_percent") == pytest.approx(100 * (33.4 - 27) / 27)
    assert found.results["within_tolerance"].value is False
    assert found.verdict is Verdict.OUT


def test_dissipation_and_load_at_the_stated_ambient(worked: Worked) -> None:
    """At 85 °C (155 − 85)/(155 − 70) of the rating is left: 12-checks.csv, 0.8235."""
    left = items(worked("kind: components, ambient_c: 85", HEAD + "R2,27R,10 %,7,11.2,33.4,27.1\n"), "left")["R2"]
    assert number(left, "dissipation_w") == pytest.approx(11.2**2 / 27.1)
    assert number(left, "load_percent") == pytest.approx(100 * 11.2**2 / 27.1 / (7 * 70 / 85))


def test_without_an_ambient_temperature_there_is_no_derating(worked: Worked) -> None:
    found = items(worked("kind: components", HEAD + "R2,100R,5 %,1,10,100,\n"))["R2"]
    assert number(found, "load_percent") == pytest.approx(100)


def test_where_nothing_is_allowed_any_more_there_is_a_reason(worked: Worked) -> None:
    found = items(worked("kind: components, ambient_c: 160", HEAD + "R2,100R,5 %,1,10,100,\n"))["R2"]
    assert found.results["load_percent"].value is None
    assert "no power is allowed" in found.results["load_percent"].reason


@pytest.mark.parametrize(
    ("marked", "measured", "unit"), [("4k7", "4.82k", "ohm"), ("100n", "0.098 uF", "F"), ("470u", "290u", "F")]
)
def test_units_may_differ_as_long_as_the_quantity_is_the_same(worked: Worked, marked: str, measured: str, unit: str) -> None:
    found = items(worked("kind: components", f"ref,marked,tolerance,as_found\nX1,{marked},50 %,{measured}\n"))["X1"]
    assert found.results["value"].unit == unit
    assert abs(number(found, "drift_percent")) < 50


def test_a_tolerance_of_the_check_counts_for_rows_without_one(worked: Worked) -> None:
    finding = worked("kind: components, limit: 1 %", "ref,marked,as_found\nR1,100R,102R\nR2,100R,100.5R\n")
    assert {ref: i.verdict for ref, i in items(finding).items()} == {"R1": Verdict.OUT, "R2": Verdict.IN}


def test_without_a_tolerance_it_is_for_information(worked: Worked) -> None:
    found = items(worked("kind: components", "ref,marked,as_found\nR1,100R,102R\n"))["R1"]
    assert found.verdict is Verdict.INFORMATION
    assert found.results["within_tolerance"].value is None


def test_the_meter_s_uncertainty_counts_here_too(worked: Worked) -> None:
    finding = worked("kind: components, meter: dmm", "ref,marked,tolerance,as_found\nR1,100k,1 %,100.9k\n")
    assert items(finding)["R1"].verdict is Verdict.TOO_CLOSE


@pytest.mark.parametrize(
    ("marked", "tolerance", "preferred"), [("4k6", "5 %", 4700), ("4k64", "1 %", 4640), ("106n", "10 %", 110e-9)]
)
def test_the_nearest_preferred_value(worked: Worked, marked: str, tolerance: str, preferred: float) -> None:
    """Source: IEC 60063, 01-e-series.csv; E24, or E96 for parts of 2 % and finer."""
    found = items(worked("kind: components", f"ref,marked,tolerance,as_found\nX1,{marked},{tolerance},{marked}\n"))["X1"]
    assert number(found, "preferred_value") == pytest.approx(preferred)


def test_parts_that_are_worked_hard_are_named(worked: Worked) -> None:
    finding = worked("kind: components", HEAD + "R2,100R,5 %,1,8,100,100\nR3,100R,5 %,10,8,100,100\n")
    assert "R2 (64 %)" in finding.advice
    assert "R3" not in finding.advice


def test_the_worst_is_the_part_farthest_out(worked: Worked) -> None:
    finding = worked("kind: components", HEAD + "R2,27R,10 %,,,33.4,27.1\nR3,15R,10 %,,,17.9,15.1\n")
    assert finding.found
    assert finding.found.worst == "R2 measures 33.4 Ω, +23.7 % from its marking, 3.7 Ω beyond its limit"
    assert finding.plain == "As left, 2 of 2 parts are within limits; as found it was 0 of 2."


def test_a_plain_number_beside_a_capacitor_s_marking_is_no_value(worked: Worked) -> None:
    finding = worked("kind: components", "ref,marked,tolerance,as_found,as_left\nC1,100n,10 %,98,98n\n", problems=None)
    assert finding.found is None
    assert items(finding, "left")["C1"].verdict is Verdict.IN


def test_a_plain_number_beside_a_resistor_s_marking_is_in_ohms(worked: Worked) -> None:
    found = items(worked("kind: components", "ref,marked,tolerance,as_found\nR1,4k7,5 %,4820\n"))["R1"]
    assert number(found, "drift_percent") == pytest.approx(100 * 120 / 4700)


def test_kilohms_keep_the_digits_they_were_read_with(worked: Worked) -> None:
    finding = worked("kind: components", "ref,marked,tolerance,as_found\nR1,4k7,1 %,4.82 kohm\n")
    assert finding.found
    assert finding.found.worst == "R1 measures 4.82 kΩ, +2.6 % from its marking, 70 Ω beyond its limit"


def test_a_part_on_the_very_edge_of_its_tolerance_is_inside(worked: Worked) -> None:
    """100·1.1 is 110.00000000000001 in binary; on paper it is 110."""
    found = items(worked("kind: components", "ref,marked,tolerance,as_found\nR1,100R,10 %,110R\nR2,47R,10 %,51.7R\n"))
    for item in found.values():
        assert (item.results["within_tolerance"].value, item.verdict) == (True, Verdict.IN)


def test_a_tolerance_of_the_check_may_be_in_parts_per_million(worked: Worked) -> None:
    found = items(worked("kind: components, limit: 500 ppm", "ref,marked,as_found\nR1,10k,10.006k\nR2,10k,10.004k\n"))
    assert [i.verdict for i in found.values()] == [Verdict.OUT, Verdict.IN]


@pytest.mark.parametrize(
    ("keys", "tolerance", "limit"),
    [
        ("", "5 %", "each part's own tolerance"),
        ("", "", ""),
        (", limit: 1 %", "", "1 %"),
        (", limit: 1 %", "5 %", "each part's own tolerance, else 1 %"),
    ],
)
def test_the_limit_is_named_where_there_is_one(worked: Worked, keys: str, tolerance: str, limit: str) -> None:
    assert worked(f"kind: components{keys}", f"ref,marked,tolerance,as_found\nR1,100R,{tolerance},100R\n").limit == limit


def test_the_worst_is_the_part_that_has_used_most_of_its_own_tolerance(worked: Worked) -> None:
    finding = worked("kind: components", "ref,marked,tolerance,as_found\nR1,100R,1 %,100.9R\nR2,100R,10 %,105.0R\n")
    assert finding.found
    assert finding.found.worst.startswith("R1 ")


def test_load_is_spoken_of_only_where_there_is_one(worked: Worked) -> None:
    assert "Load" not in worked("kind: components", HEAD + "C1,100n,10 %,,,98n,\n").method
    assert worked("kind: components", HEAD + "R2,100R,5 %,1,8,100,\n").method.endswith(
        "Load: dissipation against the rating, derated from 70 °C up, at 40 °C."
    )


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("R1,100R,5 %,1,,100,", "no voltage across the part is given"),
        ("R1,100R,5 %,,5,100,", "no rating is given"),
        ("C1,100n,5 %,1,5,100n,", "it is no resistor"),
    ],
)
def test_a_load_that_cannot_be_had_has_a_reason(worked: Worked, row: str, reason: str) -> None:
    (found,) = items(worked("kind: components", HEAD + row + "\n")).values()
    assert (found.results["load_percent"].value, found.results["load_percent"].reason) == (None, reason)


def test_parts_beyond_their_rating_are_named_first(worked: Worked) -> None:
    """12²/100 = 1.44 W in 1 W, and 8²/100 = 0.64 W."""
    advice = worked("kind: components", HEAD + "R1,100R,5 %,1,12,100,\nR2,100R,5 %,1,8,100,\n").advice
    assert advice.startswith("Beyond the derated rating: R1 (144 %). Worked above half of the derated rating: R2 (64 %).")


def test_the_chart_says_where_the_worst_part_stands(worked: Worked) -> None:
    chart = all_kinds()["components"].chart(worked("kind: components", HEAD + "R2,27R,10 %,,,33.4,27.1\nR3,15R,,,,17.9,15.1\n"))
    assert chart
    assert chart.alt.startswith("C: drift of 1 part as found and as left. ")
    assert chart.caption.endswith(
        "Nearest to its limit as left: R2 measures 27.1 Ω, +0.4 % from its marking, 2.6 Ω inside its limit."
        " Each part stands on the scale of its own tolerance."
    )
    assert all_kinds()["components"].chart(worked("kind: components", "ref,marked,as_found\nR2,27R,30\n")) is None


@pytest.mark.parametrize(
    ("marked", "said"), [("4k7", "4.7 kΩ"), ("100n", "100 nF"), ("0R47", "0.47 Ω"), ("2200u", "2200 µF"), ("10k", "10 kΩ")]
)
def test_a_marking_is_shown_as_it_is_written(worked: Worked, marked: str, said: str) -> None:
    cell = worked("kind: components", f"ref,marked,tolerance,as_found\nX1,{marked},50 %,{marked}\n").table.rows[0][1]
    assert isinstance(cell, Value)
    assert shown(cell) == said


@pytest.mark.parametrize(
    ("marked", "measured", "drift"),
    [("104", "98n", -2), ("104K", "98n", -2), ("223", "0.023 uF", 4.545), ("479", "4.6p", -2.13), ("470", "48p", 2.13)],
)
def test_three_digits_on_a_capacitor_are_its_code(worked: Worked, marked: str, measured: str, drift: float) -> None:
    found = items(worked("kind: components", f"ref,marked,tolerance,as_found\nC1,{marked},10 %,{measured}\n"))["C1"]
    assert number(found, "drift_percent") == pytest.approx(drift, abs=0.01)
    assert found.verdict is Verdict.IN


@pytest.mark.parametrize(("marked", "measured"), [("47k", "47.2"), ("47", "47.2k"), ("1M", "980"), ("4k7", "4.9")])
def test_a_plain_number_a_thousand_times_off_is_no_measurement(worked: Worked, marked: str, measured: str) -> None:
    found = items(
        worked(
            "kind: components",
            f"ref,marked,tolerance,as_found\nR1,{marked},5 %,{measured}\nR2,1k,5 %,1k\n",
            problems=["unit-slip"],
        )
    )["R1"]
    assert found.verdict is Verdict.NOT_MEASURED
    assert "is a factor of 1000:" in found.results["value"].reason


def test_a_factor_of_a_thousand_with_both_units_written_is_a_warning(worked: Worked) -> None:
    found = items(worked("kind: components", "ref,marked,tolerance,as_found\nR1,47k,5 %,47.2 ohm\n", problems=["unit-slip"]))[
        "R1"
    ]
    assert found.verdict is Verdict.OUT
    assert [w.code for w in found.warnings] == ["unit-slip"]


@pytest.mark.parametrize("measured", ["49.5", "0.3", "5k", "33.4"])
def test_a_part_that_drifted_or_failed_is_taken_as_it_was_measured(worked: Worked, measured: str) -> None:
    found = items(worked("kind: components", f"ref,marked,tolerance,as_found\nR1,47,5 %,{measured}\n"))["R1"]
    assert found.verdict in (Verdict.OUT, Verdict.TOO_CLOSE)
    assert not found.warnings
