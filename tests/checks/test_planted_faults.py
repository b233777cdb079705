"""Each planted fault is named by its own check, and not laid at another's door.

What cannot be told apart, and why:
- a device that samples at 188 Hz and stamps its frames as if at 200 also has a wrong clock:
  `rate` and `clock` both fail;
- sideways signs on a level platform, or of cells, show under no standing mass: not planted;
- a channel that is dead or cut off leaves signs, weight and position unjudged (not failed);
- a wrong sign leaves the place unjudged, a wrong gain of one channel too.
"""

from __future__ import annotations

import pytest

from stream.checks.registry import NAMES, run
from stream.checks.verdict import Status
from tests.checks.bench import Bench
from tests.checks.planted import FAULTS, Fault

CASES = [(fault, name) for fault in FAULTS for name in fault.layouts]


@pytest.mark.parametrize(("fault", "name"), CASES, ids=[f"{f.name}-{n}" for f, n in CASES])
def test_fault_is_named_by_its_own_check_alone(fault: Fault, name: str) -> None:
    evidence = fault.plant(Bench(name, seed=1, noise=2.0, seconds=3.0)).evidence()
    results = {r.check: r for r in run(evidence)}
    culprit = results[fault.named_by]
    assert culprit.status is Status.FAIL
    assert fault.blames.lower() in culprit.say.lower()
    blamed = {r.check for r in results.values() if r.status in (Status.FAIL, Status.WARN)}
    assert blamed == {fault.named_by, *fault.also}


def test_every_check_but_latency_has_a_planted_fault() -> None:
    assert {f.named_by for f in FAULTS} == set(NAMES) - {"latency"}


def test_three_faults_at_once_are_all_named() -> None:
    by_name = {f.name: f for f in FAULTS}
    bench = Bench("two-plates", seed=4)
    for name in ("sense", "drift", "lost frames"):
        bench = by_name[name].plant(bench)
    failed = {r.check for r in run(bench.evidence()) if r.status is Status.FAIL}
    assert failed == {"signs", "drift", "continuity"}


def test_without_a_marked_spot_a_turned_sense_is_named_all_the_same() -> None:
    fault = next(f for f in FAULTS if f.name == "sense")
    bench = fault.plant(Bench("two-plates", seed=2, give_mass=False, give_spot=False))
    results = {r.check: r for r in run(bench.evidence())}
    assert results["signs"].status is Status.FAIL
    assert results["weight"].status is results["position"].status is Status.NOT_RUN
    assert "--mass-kg" in results["weight"].say


def test_a_mirrored_platform_is_named_with_the_channels_to_turn() -> None:
    fault = next(f for f in FAULTS if f.name == "mirrored y")
    results = {r.check: r for r in run(fault.plant(Bench("two-plates", seed=1)).evidence())}
    say = results["position"].say
    assert "Left and right are exchanged on the front platform (mirrored in y)" in say
    assert "turn the sign of front Mx (channel 9), or put the layout's corners" in say


def test_of_equally_good_suspects_the_likelier_is_named_at_every_seed() -> None:
    # On tiles a mirrored deck and two exchanged tiles differ by noise alone.
    by_name = {f.name: f for f in FAULTS}
    for name in ("mirrored y", "mirrored x", "turned half"):
        for seed in range(4):
            bench = by_name[name].plant(Bench("tiled", seed=seed, noise=3.0, seconds=3.0))
            failed = {r.check for r in run(bench.evidence()) if r.status is Status.FAIL}
            assert failed == {"position"}, (name, seed)
