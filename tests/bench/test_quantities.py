"""Topic 01: preferred numbers and marking codes.

Sources as the tables state them: IEC 60063 (E series; class source, E3's tolerance practice), IEC 60062 (colours, letters;
class source, a few tolerance letters memory), nearest values derived (argmin |v − x|).
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench import quantities as q
from reference.published import checks, rows

CHECKS = checks("01")
NEAREST = {i: r for i, r in CHECKS.items() if i.startswith("nearest-")}
TOLERANCES = {i: r for i, r in CHECKS.items() if i.endswith("-tol")}
SERIES = ["E3", "E6", "E12", "E24", "E48", "E96", "E192"]


def test_every_single_check_is_used() -> None:
    assert CHECKS.keys() == NEAREST.keys() | TOLERANCES.keys() | {"e192-exception", "e24-exceptions"}


@pytest.mark.parametrize("series", SERIES)
def test_a_series_is_as_iec_60063_lists_it(series: str) -> None:
    assert q.series_values(series) == tuple(float(r["value"]) for r in rows("01-e-series.csv") if r["series"] == series)


def test_the_exceptions_to_rounding_are_kept() -> None:
    assert q.series_values("E192")[185] == float(CHECKS["e192-exception"]["value"])
    plain = {round(10 ** (i / 24), 1) for i in range(24)}
    assert [
        v for v in q.series_values("E24") if v not in plain or v != round(10 ** (q.series_values("E24").index(v) / 24), 1)
    ] == [float(v) for v in CHECKS["e24-exceptions"]["value"].split()]


@pytest.mark.parametrize("row", NEAREST.values(), ids=NEAREST)
def test_nearest_preferred_value(row: dict[str, str]) -> None:
    _, series, value = row["id"].split("-", 2)
    assert q.preferred_value(float(value), series) == float(row["value"])


@pytest.mark.parametrize("row", TOLERANCES.values(), ids=TOLERANCES)
def test_tolerance_that_goes_with_a_series(row: dict[str, str]) -> None:
    assert q.usual_tolerance_percent(row["id"].removesuffix("-tol").upper()) == float(row["value"])


@given(st.sampled_from(SERIES), st.floats(1e-12, 1e12))
def test_a_preferred_value_is_its_own_nearest_and_none_is_nearer(series: str, value: float) -> None:
    nearest = q.preferred_value(value, series)
    assert q.preferred_value(nearest, series) == nearest
    assert abs(nearest - value) <= 0.55 * value  # derived: the widest gap is E3's, 4.7 to 10


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_no_preferred_value_for_what_is_no_size(value: float) -> None:
    with pytest.raises(ValueError, match="preferred number"):
        q.preferred_value(value)


@pytest.mark.parametrize("call", [q.series_values, q.usual_tolerance_percent])
def test_an_unknown_series_is_refused(call: object) -> None:
    with pytest.raises(ValueError, match="E13 is no series"):
        call("E13")  # type: ignore[operator]


# Rows in picofarad (capacitors below 10 pF) are not for this function, which speaks of percent.
PERCENT = [r for r in rows("01-tolerance-letters.csv") if r["unit"] == "%"]


@pytest.mark.parametrize("row", PERCENT, ids=lambda r: f"{r['letter']}-{r['meaning']}")
def test_tolerance_letter(row: dict[str, str]) -> None:
    if row["meaning"] == "symmetric":
        assert q.tolerance_percent(row["letter"]) == float(row["tolerance"])
    else:
        assert q.tolerance_percent(row["letter"]) is None


@pytest.mark.parametrize("row", rows("01-colour-code.csv"), ids=lambda r: r["colour"])
def test_colour(row: dict[str, str]) -> None:
    power, tolerance = row["multiplier_power_of_10"], row["tolerance_percent"]
    assert q.COLOUR_POWERS.get(row["colour"]) == (int(power) if power else None)
    assert q.COLOUR_TOLERANCES.get(row["colour"]) == (float(tolerance) if tolerance else None)
    if row["digit"]:
        assert q.colour_code(["brown", row["colour"], "black", "brown"]).ohm == 10 + int(row["digit"])
    else:
        with pytest.raises(ValueError, match="cannot"):
            q.colour_code(["brown", row["colour"], "black", "brown"])


@pytest.mark.parametrize("row", rows("01-colour-examples.csv"), ids=lambda r: r["bands"])
def test_colour_example(row: dict[str, str]) -> None:
    assert q.colour_code(row["bands"].split()) == q.ColourCode(float(row["ohm"]), float(row["tolerance_percent"]))


@pytest.mark.parametrize("bands", ["", "brown black", "brown black red black", "mauve black red", "red " * 7])
def test_impossible_bands_are_refused(bands: str) -> None:
    with pytest.raises(ValueError, match=r"bands|cannot"):
        q.colour_code(bands.split())
