"""The guided procedure: its steps, what hinders them, what it gives when done."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from stream.checks.plan import Plan, Step
from stream.checks.procedure import Procedure
from stream.checks.verdict import Status
from stream.wire import ForceMessage
from tests.checks.bench import SPOT, Array, Bench

Feed = list[tuple[ForceMessage, int]]


def _feed(procedure: Procedure, feed: Feed, until: Step | None = None) -> None:
    for message, came in feed:
        procedure.feed(message, came)
        if until is not None and procedure.step is until:
            return


def _bench(**changes: object) -> Bench:
    return Bench("two-plates", seed=5, seconds=5.0).but(**changes)


def test_the_steps_follow_the_load_by_themselves() -> None:
    procedure = Procedure(_bench().layout, Plan(seconds=2.0, mass_kg=20.0, spot=SPOT, by="A. B."))
    assert procedure.now().step is Step.EMPTY
    assert "Step off" in procedure.now().do
    feed = _bench().messages()
    _feed(procedure, feed[:20])
    assert 0.0 < procedure.now().progress < 1.0
    _feed(procedure, feed[20:60])
    now = procedure.now()
    assert now.step is Step.MASS
    assert (now.number, now.of) == (2, 2)
    assert "1.80 m in front" in now.do
    assert "0.30 m to the left" in now.do
    _feed(procedure, feed[60:100])
    assert (procedure.now().hindrance or "").startswith("No load is felt yet. Put the known mass")
    assert procedure.now().progress == 0.0
    _feed(procedure, feed[100:])
    assert procedure.done
    report = procedure.report("mound-a")
    assert report.ok
    assert report.by == "A. B."
    assert {r.status for r in report.checks} == {Status.PASS}
    assert report.tare is not None
    assert (report.tare.by, len(report.tare.values)) == ("A. B.", 12)


def test_somebody_on_the_deck_hinders_the_empty_step_until_the_operator_insists() -> None:
    feed = _bench(mass_kg=80.0).messages()
    loaded = feed[len(feed) // 2 + 10 :]
    procedure = Procedure(_bench().layout, Plan(seconds=1.0))
    _feed(procedure, loaded)
    assert procedure.step is Step.EMPTY
    assert "The deck is not empty: 78" in (procedure.now().hindrance or "")
    assert procedure.take_now()
    report = procedure.report("mound-a")
    assert {r.check for r in report.failed} == {"zero"}
    assert report.tare is None  # a person's weight never becomes a zero


def test_a_mass_left_on_the_deck_keeps_the_first_step_and_spoils_nothing_that_follows() -> None:
    feed = _bench().messages()
    loaded = feed[len(feed) // 2 + 10 :]
    procedure = Procedure(_bench().layout, Plan(seconds=1.0, mass_kg=20.0, spot=SPOT))
    _feed(procedure, loaded)
    assert procedure.step is Step.EMPTY
    said = procedure.now().hindrance or ""
    assert "Perhaps the known mass stood there from the beginning" in said
    assert "Take everything off and do this step once more" in said
    assert procedure.take_now()  # the operator says that it is empty
    _feed(procedure, [(replace(m, first_frame=m.first_frame + 2000), t) for m, t in feed])
    assert procedure.done  # the mass was taken away: that changes the load too
    report = procedure.report("mound-a")
    assert {r.check for r in report.failed} >= {"zero"}
    assert report.tare is None
    resting = [r for r in report.checks if r.check in ("signs", "weight", "position")]
    assert {(r.status, r.say) for r in resting} == {
        (Status.NOT_RUN, "Not judged: the zero must be right first, see zero.")
    }


def test_after_the_mass_is_taken_off_the_first_step_is_done_once_more() -> None:
    feed = _bench().messages()
    half = len(feed) // 2 + 10
    procedure = Procedure(_bench().layout, Plan(seconds=1.0, mass_kg=20.0, spot=SPOT))
    _feed(procedure, feed[half:])
    assert procedure.step is Step.EMPTY
    _feed(procedure, [(replace(m, first_frame=m.first_frame + 2000), t) for m, t in feed])
    assert procedure.done
    assert procedure.report("mound-a").tare is not None


def test_somebody_who_moves_on_the_deck_is_asked_to_step_off() -> None:
    def swaying(_: object, out: Array, t: Array) -> Array:
        out = out.copy()
        out[:, 8] += 60.0 * (((t * 2).astype(int) % 2) * 2 - 1)
        return out

    feed = _bench(mass_kg=82.0, after=swaying).messages()
    procedure = Procedure(_bench().layout, Plan(seconds=1.0))
    _feed(procedure, feed[len(feed) // 2 + 10 :])
    assert procedure.step is Step.EMPTY
    assert procedure.now().hindrance == "Somebody seems to be on the deck: step off."


@pytest.mark.parametrize(
    ("kg", "said"), [(20.0034, "20"), (20.4117, "20.4"), (4.5359, "4.54"), (136.0777, "136.1")]
)
def test_a_mass_is_said_in_digits_that_mean_something(kg: float, said: str) -> None:
    procedure = Procedure(_bench().layout, Plan(mass_kg=kg))
    procedure.skip()
    assert f"Put the {said} kg on" in procedure.now().do


def test_a_moving_load_is_not_taken() -> None:
    def shaken(_: object, out: Array, t: Array) -> Array:
        out = out.copy()
        out[:, 8] += 60.0 * (((t * 2).astype(int) % 2) * 2 - 1)
        return out

    procedure = Procedure(_bench().layout, Plan(seconds=1.0))
    _feed(procedure, _bench(after=shaken).messages())
    assert procedure.step is Step.EMPTY
    assert "still moving" in (procedure.now().hindrance or "")
    assert not procedure.take_now()


def test_a_skipped_step_is_said_to_be_not_run() -> None:
    procedure = Procedure(_bench().layout, Plan(seconds=1.0, mass_kg=20.0, spot=SPOT))
    _feed(procedure, _bench().messages(), until=Step.MASS)
    procedure.skip()
    assert procedure.done
    results = {r.check: r for r in procedure.report("mound-a").checks}
    assert results["weight"].status is Status.NOT_RUN
    assert "a load on the deck" in results["weight"].say


def test_a_person_is_weighed_and_tells_signs_without_a_known_mass() -> None:
    procedure = Procedure(_bench().layout, Plan(seconds=2.0, stand=True))
    feed = _bench(mass_kg=82.0, give_mass=False).messages()
    _feed(procedure, feed, until=Step.STAND)
    _feed(procedure, [m for m in feed if m[0].first_frame > 500])
    assert procedure.done
    report = procedure.report("mound-a")
    assert report.body_weight_n is not None
    assert abs(report.body_weight_n / 9.80665 - 82.0) < 0.2
    assert {r.check: r.status for r in report.checks}["signs"] is Status.PASS


@pytest.mark.parametrize("stream", ["s2", "s"])
def test_a_restart_of_the_device_begins_the_step_anew(stream: str) -> None:
    """Under the same stream value too: frames go back while the device's clock goes on."""
    away_ns = 60 * 10**9
    procedure = Procedure(_bench().layout, Plan(seconds=2.0))
    feed = _bench().messages()
    _feed(procedure, feed[:30])
    again = [
        (
            ForceMessage(m.source, stream, m.first_frame, m.t_ns + away_ns, m.rate_hz, m.samples),
            came + away_ns,
        )
        for m, came in feed
    ]
    _feed(procedure, again[:20])
    assert procedure.step is Step.EMPTY
    assert procedure.now().progress < 0.6
    _feed(procedure, again[20:60])
    assert procedure.done
    continuity = procedure.report("mound-a").checks[1]
    assert (continuity.status, continuity.detail["restarts"]) == (Status.WARN, 1.0)
