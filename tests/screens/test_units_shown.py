"""Numbers as they are shown."""

from __future__ import annotations

import pint
import pytest

from analysis.units import MPH_MPS
from stream.metrics import METRICS
from tui.units import FOOT_M, FT_LBF_J, LB_KG, LBF_N, MISSING, System, Units

SI, US = Units(System.SI), Units(System.US)


@pytest.mark.parametrize(
    ("ours", "unit", "si"),
    [
        (LBF_N, "lbf", "N"),
        (MPH_MPS, "mph", "m/s"),
        (FOOT_M, "foot", "m"),
        (LB_KG, "lb", "kg"),
        (FT_LBF_J, "ft * lbf", "J"),
    ],
)
def test_factors_are_those_of_an_independent_library(ours: float, unit: str, si: str) -> None:
    # NIST SP 811 (2008), appendix B.8, as carried by pint.
    assert ours == pytest.approx(pint.UnitRegistry().Quantity(1.0, unit).to(si).magnitude)


def test_ninety_miles_an_hour() -> None:
    # NIST SP 811: 1 mph = 0.44704 m/s exactly, so 90 mph = 40.2336 m/s.
    assert US.quantity("ball", 40.2336).replace("\u00a0", " ") == "90.0 mph"
    assert SI.quantity("ball", 40.2336).replace("\u00a0", " ") == "40.2 m/s"


def test_every_unit_of_the_registry_can_be_shown() -> None:
    for m in METRICS:
        for units in (SI, US):
            assert units.quantity(m.unit, 1.0)


def test_percent_of_body_weight_is_the_same_in_both() -> None:
    assert US.quantity("% BW", 166.4) == SI.quantity("% BW", 166.4)


def test_missing_is_never_zero_and_zero_has_no_sign() -> None:
    assert US.quantity("N", None) == MISSING
    assert US.number("N", -0.4) == "0"


def test_decimal_comma() -> None:
    comma = Units(System.SI, ",")
    assert comma.number("ball", 36.25) == "36,2"
    assert comma.read("ball", "36,2") == pytest.approx(36.2)
    assert comma.other().decimal == ","


def test_reading_what_was_written() -> None:
    assert US.read("ball", " 90 ") == pytest.approx(40.2336)
    with pytest.raises(ValueError, match="no number"):
        US.read("ball", "fast")


@pytest.mark.parametrize("units", [US, Units(System.SI)])
@pytest.mark.parametrize(
    ("unit", "typed", "value"),
    [
        # Factors: NIST SP 811 (2008), appendix B.8.
        ("kg", "45 lb", 20.41165665),
        ("kg", "20,5KG", 20.5),
        ("m", "1.6 ft", 0.48768),
        ("m", "-12 in.", -0.3048),
        ("m", "30cm", 0.3),
        ("ball", "90 mph", 40.2336),
    ],
)
def test_a_unit_typed_with_the_number_counts(
    units: Units, unit: str, typed: str, value: float
) -> None:
    assert units.read(unit, typed) == pytest.approx(value)


@pytest.mark.parametrize(("unit", "typed"), [("kg", "2 m"), ("m", "1e400"), ("kg", "nan")])
def test_what_is_no_number_of_the_unit_is_refused(unit: str, typed: str) -> None:
    with pytest.raises(ValueError, match="no "):
        US.read(unit, typed)
