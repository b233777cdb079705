"""A good feed passes at every seed: noise up to 10 N, offsets of 20 N, any place and mass.

The same over thousands of checks is benchmarks/check_false_alarms.py.
"""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.check_false_alarms import LAYOUTS, good_check
from stream.checks.registry import run
from stream.checks.verdict import Status
from stream.files import load_layout
from tests.checks.bench import Bench


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("seed", range(12))
def test_every_check_of_a_good_feed_passes(name: str, seed: int) -> None:
    results = good_check(load_layout(name), 77_000 + seed)
    assert [(r.check, r.status, r.say) for r in results if r.status is not Status.PASS] == []


def test_a_legal_noise_of_ten_newtons_is_not_held_against_a_feed() -> None:
    for seed in range(5):
        results = run(Bench("two-plates", seed=seed, noise=10.0).evidence())
        assert {r.status for r in results} == {Status.PASS, Status.NOT_RUN}


def test_a_rod_pressed_with_200_newtons_for_a_second_is_enough() -> None:
    # Rod test (Holden et al. 2003): at least 200 N, vertical and still for at least one second.
    bench = Bench("two-plates", seed=3, seconds=2.0, mass_kg=200.0 / 9.80665)
    evidence = bench.evidence()
    assert evidence.loaded is not None
    assert evidence.loaded.seconds >= 1.0
    results = {r.check: r.status for r in run(evidence)}
    assert results["weight"] is results["position"] is results["signs"] is Status.PASS


def test_a_person_on_the_deck_that_should_be_empty_is_not_taken_for_noise() -> None:
    evidence = Bench("two-plates", seed=1, mass_kg=80.0).evidence()
    assert evidence.loaded is not None
    from dataclasses import replace

    from stream.checks.evidence import Quiet

    standing = Quiet(evidence.layout, 200.0, 0, evidence.loaded.samples)
    results = {r.check: r for r in run(replace(evidence, quiet=standing, loaded=None))}
    assert results["zero"].status is Status.FAIL
    assert "should be empty" in results["zero"].say
    assert results["noise"].status is Status.NOT_RUN
    assert np.isfinite(results["rate"].value or np.nan)
