"""The zero kept with who and when; local gravity; the verdict that reports print."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import pytest
from msgspec import structs

from stream.checks.gravity import local_gravity
from stream.checks.registry import report
from stream.checks.tare import moved_sentence, take_tare
from stream.checks.verdict import Report, encode_report, verdict_line
from tests.checks.bench import Bench


@pytest.mark.parametrize(
    ("latitude", "gravity"),
    # Geodetic Reference System 1980 (Moritz 1980): equator, pole, 45 degrees (from memory).
    [(0.0, 9.7803267715), (90.0, 9.8321863685), (45.0, 9.806199203), (-45.0, 9.806199203)],
)
def test_normal_gravity_is_that_of_grs80(latitude: float, gravity: float) -> None:
    assert local_gravity(latitude) == pytest.approx(gravity, abs=2e-8)


def test_gravity_falls_with_height_and_wants_a_latitude_on_earth() -> None:
    # Free-air gradient 0.3086 mGal a metre, the trade's usual figure.
    assert local_gravity(40.0) - local_gravity(40.0, 1600.0) == pytest.approx(0.004938, abs=1e-6)
    with pytest.raises(ValueError, match="between -90 and 90"):
        local_gravity(91.0)


def test_the_weight_check_uses_local_gravity() -> None:
    evidence = Bench("two-plates", seed=2, noise=0.3, mass_kg=40.0).evidence()
    elsewhere = replace(evidence, gravity=9.78)
    values = [
        next(r.value for r in report(e, source="m", taken_ns=0).checks if r.check == "weight")
        for e in (evidence, elsewhere)
    ]
    assert values[0] == pytest.approx(40.0, abs=0.03)
    assert values[1] == pytest.approx(40.0 * 9.80665 / 9.78, abs=0.03)


def test_the_zero_is_kept_with_who_and_when_and_its_move_is_told() -> None:
    bench = Bench("two-plates", seed=3)
    quiet = bench.evidence().quiet
    assert quiet is not None
    tare = take_tare(quiet, "J. D.", 1_700_000_000)
    assert (tare.by, tare.taken_ns) == ("J. D.", 1_700_000_000)
    assert "does not matter" in moved_sentence(1.0, 800.0)
    assert "not yet enough" in moved_sentence(-3.0, 800.0)
    # 0.5 % of 800 N is 4 N.
    assert "take the zero anew" in moved_sentence(4.0, 800.0)
    # Nobody weighed yet: a usual pitcher of 80 kg stands in, 0.5 % of 785 N is 3.9 N.
    assert "of a usual body weight): it matters now" in moved_sentence(4.0, None)
    assert "not yet enough" in moved_sentence(3.8, None)


def test_a_report_survives_json_and_says_in_a_line_whether_it_passed() -> None:
    good = report(Bench("two-plates", seed=3).evidence(), source="m", taken_ns=5, by="J. D.")
    assert msgspec.json.decode(encode_report(good), type=Report) == good
    assert verdict_line(good).startswith("The set-up check of this session passed (12 checks")
    assert verdict_line(structs.replace(good, body_weight_n=943.0)).endswith(
        "Body weight 943 N (212 lbf)."  # 1 lbf = 4.4482216152605 N: NIST SP 811 (2008), B.8
    )
    without = report(
        Bench("two-plates", seed=3, give_mass=False).evidence(), source="m", taken_ns=5
    )
    assert verdict_line(without).startswith(
        "The set-up check of this session passed without a known mass (11 checks; not run: "
    )
    assert "weight" in verdict_line(without)
    bad = report(Bench("two-plates", seed=3, rate=188.0).evidence(), source="m", taken_ns=5)
    assert verdict_line(bad) == "The set-up check of this session did not pass (rate)."
    assert "unproven" in verdict_line(None)
