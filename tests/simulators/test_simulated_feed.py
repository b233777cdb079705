"""The simulated device's feed: frames, clocks, order, recordings; and its faults."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from mcap.reader import make_reader

from simulators.faults import (
    FAULTS,
    FaultError,
    check_faults,
    parse_fault,
    place_in_streams,
    spoiler,
    wrong_bytes,
    wrong_device,
    wrong_messages,
)
from simulators.faulty_link import Fault
from simulators.feed import EPOCH_NS, Device, Sent, messages, packed
from simulators.ledger import truth_lines
from simulators.recorded import record
from simulators.scenario import Plan, compose
from simulators.scenes import check, empty, mass, standing
from simulators.sensor import Imperfections
from simulators.timeline import Scenario
from stream.actions import ChoosePitcher, decode_action
from stream.layout import Layout
from stream.wire import ForceMessage, WireError, decode_force, decode_speed
from tests.simulators.simulated import layout

_PLAN = Plan(seed=4, pitches=2, pitchers=2, traffic=0.0, quick=True, speeds_missing=0.0)


def _session() -> Scenario:
    return compose(_PLAN, layout().deck)


def _sent(
    scenario: Scenario, *texts: str, device: Device | None = None, deck: Layout | None = None
) -> list[Sent]:
    deck = deck or layout()
    faults = [parse_fault(text) for text in texts]
    check_faults(faults, deck)
    dev = wrong_device(device or Device(), faults)
    timed = messages(scenario, deck, dev, spoil=spoiler(deck, faults))
    timed = wrong_messages(timed, faults, 1)
    return list(wrong_bytes((packed(t) for t in timed), faults, 1))


def _force(sent: list[Sent]) -> list[ForceMessage]:
    return [decode_force(s.payload) for s in sent if s.topic.endswith("/force")]


def _samples(sent: list[Sent]) -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
    return np.concatenate([m.samples for m in _force(sent)])


def test_readings_do_not_depend_on_how_they_are_cut() -> None:
    scenario = _session()
    one = np.concatenate([x for _, x in scenario.render(layout(), block=2000)])
    other = np.concatenate([x for _, x in scenario.render(layout(), block=37)])
    assert np.array_equal(one, other)


def test_equal_seeds_give_equal_sessions_and_others_differ() -> None:
    assert [s.payload for s in _sent(_session())] == [s.payload for s in _sent(_session())]
    other = compose(Plan(seed=5, pitches=2, pitchers=2, quick=True), layout().deck)
    assert other.duration != _session().duration


def test_frames_follow_one_another_and_times_go_up() -> None:
    sent = _sent(_session())
    blocks = _force(sent)
    assert blocks[0].first_frame == 0
    for a, b in pairwise(blocks):
        assert b.first_frame == a.first_frame + len(a.samples)
    assert all(len(b.samples) == 4 for b in blocks[:-1])
    assert all(a.time <= b.time for a, b in pairwise(sent))
    # Nothing arrives before it was sampled.
    assert all(s.host_ns >= EPOCH_NS + round(s.time * 1e9) for s in sent)


def test_device_clock_runs_as_wrong_as_asked() -> None:
    sent = [s for s in _sent(_session(), device=Device(ppm=300.0)) if s.topic.endswith("/force")]
    blocks, sent = _force(sent)[:-1], sent[:-1]  # the last block is a short one
    frames = blocks[-1].first_frame - blocks[0].first_frame
    device_s = (blocks[-1].t_ns - blocks[0].t_ns) / 1e9
    true_s = sent[-1].time - sent[0].time
    assert frames / device_s == pytest.approx(200.0, rel=1e-9)
    assert device_s / true_s == pytest.approx(1.0003, abs=2e-5)


def test_speed_follows_foot_contact_by_half_to_one_second_of_the_device_clock() -> None:
    scenario, device = _session(), Device()
    told = [decode_speed(s.payload) for s in _sent(scenario) if s.topic.endswith("/speed")]
    assert len(told) == len(scenario.pitches) == 2
    for message, thrown in zip(told, scenario.pitches, strict=True):
        delay = message.t_ns - device.clock_ns(thrown.contact, EPOCH_NS)
        assert 0.5e9 <= delay <= 1.0e9
        assert message.speed_mps == thrown.speed_mps


def test_pitchers_are_chosen_by_operator_messages() -> None:
    actions = [decode_action(s.payload) for s in _sent(_session()) if s.topic.endswith("/operator")]
    assert [a.pitcher for a in actions if isinstance(a, ChoosePitcher)] == ["P01", "P02"]


def test_truth_is_where_the_feed_has_it() -> None:
    scenario, device = _session(), Device()
    rendered = scenario.render(
        layout(), Imperfections.none(), device.frames_per_second, 2000, device.start_offset
    )
    x = np.concatenate([b for _, b in rendered])
    front = layout().platforms[1]
    vertical = (x[:, list(front.channels)] @ front.to_wrench.T)[:, 2]
    for line in truth_lines(scenario, device):
        k = int(line["foot_contact_frame"])
        level = 0.1 * line["body_weight_n"]
        assert vertical[k] <= level * 1.02
        assert vertical[k + 1] > level
        assert set(line) >= {"number", "pitcher", "throws", "events_s", "metrics", "style"}
        json.dumps(line, allow_nan=False)


def test_recording_is_read_by_the_format_s_own_library(tmp_path: Path) -> None:
    scenario = _session()
    sent = _sent(scenario)
    path = tmp_path / "session.mcap"
    assert record(path, sent, scenario, layout()) == len(sent)
    with path.open("rb") as file:
        reader = make_reader(file, validate_crcs=True)
        read = [(c.topic, m.data, m.publish_time, m.log_time) for _, c, m in reader.iter_messages()]
        metadata = {m.name: m.metadata for m in reader.iter_metadata()}
    expected = [(s.topic, s.payload, s.device_ns, s.host_ns) for s in sent]
    assert sorted(read) == sorted(expected)
    assert metadata["layout"]["toml"] == layout().origin_text
    assert "P01" in metadata["roster"]["csv"]
    assert "nvented" in metadata["scenario"]["text"]


def test_scenes_weigh_what_they_should() -> None:
    deck = layout()
    for scene, expected in (
        (empty(1, 3.0), 0.0),
        (mass(1, 3.0, 20.0, 0.9, 0.2), 20 * 9.80665),
    ):
        x = np.concatenate([b for _, b in scene.render(deck, Imperfections.none())]).astype(float)
        loads = [(x[:, list(p.channels)] @ p.to_wrench.T)[:, 2] for p in deck.platforms]
        whole = np.sum(loads, axis=0)
        assert whole == pytest.approx(expected, abs=0.05)
    person = standing(1, 3.0, deck.deck)
    x = np.concatenate([b for _, b in person.render(deck, Imperfections.none())])
    told = float(person.note.split("(")[1].split(" kg")[0])
    assert x[:, 2].mean() / 9.80665 == pytest.approx(told, rel=5e-3)


def test_the_scene_of_a_whole_set_up_check() -> None:
    deck = layout()
    scene = check(1, 2.0, 3.0, 20.0, (0.9, 0.2), deck.deck)
    x = np.concatenate([b for _, b in scene.render(deck, Imperfections.none())]).astype(float)
    loads = [(x[:, list(p.channels)] @ p.to_wrench.T)[:, 2] for p in deck.platforms]
    whole = np.sum(loads, axis=0)
    told = float(scene.note.split("P01 (")[1].split(" kg")[0])
    for start, end, kg in ((0, 2, 0.0), (2.3, 4.7, 20.0), (5, 7, 0.0), (7.6, 9.4, told)):
        part = whole[round(start * 200) : round(end * 200)]
        assert part.mean() / 9.80665 == pytest.approx(kg, rel=5e-3, abs=0.05)


# --- faults ----------------------------------------------------------------


def test_every_fault_changes_the_feed() -> None:
    scenario = mass(1, 4.0, 60.0, 0.9, 0.3)
    clean = [(s.topic, s.payload, s.host_ns) for s in _sent(scenario)]
    share = {"lost", "duplicated", "disordered", "truncated"}
    for name in FAULTS:
        spoilt = _sent(scenario, f"{name}:0.2" if name in share else f"{name}@1")
        assert [(s.topic, s.payload, s.host_ns) for s in spoilt] != clean, name


def test_faults_begin_when_asked() -> None:
    scenario = mass(1, 4.0, 60.0, 0.9, 0.3)
    clean, late = _samples(_sent(scenario)), _samples(_sent(scenario, "gain:2@2"))
    assert np.array_equal(clean[:399], late[:399])
    assert late[401:] == pytest.approx(2 * clean[401:], rel=1e-5)


def test_faults_of_readings_do_what_they_say() -> None:
    scenario = mass(1, 4.0, 60.0, 0.9, 0.3)
    clean = _samples(_sent(scenario))
    assert not _samples(_sent(scenario, "dead:8"))[:, 8].any()
    assert np.ptp(_samples(_sent(scenario, "stuck:8"))[:, 8]) == 0.0
    assert np.array_equal(_samples(_sent(scenario, "sign_flip:8"))[:, 8], -clean[:, 8])
    swapped = _samples(_sent(scenario, "swapped_platforms"))
    assert np.array_equal(swapped, np.roll(clean, 6, axis=1))
    axes = _samples(_sent(scenario, "swapped_axes"))
    assert np.array_equal(axes[:, [7, 6, 10, 9]], clean[:, [6, 7, 9, 10]])


def test_mirrored_readings_put_the_load_on_the_other_side() -> None:
    for name in ("two-plates", "four-corner"):
        deck = layout(name)
        scene = mass(1, 2.0, 60.0, 0.9, 0.3)
        how = Imperfections.none()
        timed = messages(scene, deck, Device(), how, spoil=spoiler(deck, [parse_fault("mirrored")]))
        x = np.concatenate(
            [t.content.samples for t in timed if isinstance(t.content, ForceMessage)]
        )
        p = deck.platforms[-1]
        wrench = (x[:, list(p.channels)] @ p.to_wrench.T).mean(axis=0)
        # Centre of pressure of a vertical load: y = centre + Mx / Fz.
        assert p.centre[1] + wrench[3] / wrench[2] == pytest.approx(-0.3, abs=2e-3)


def test_faults_of_the_link_do_what_they_say() -> None:
    scenario = empty(1, 6.0)
    clean = _force(_sent(scenario))
    lost = _force(_sent(scenario, "lost:0.1"))
    assert 0 < len(clean) - len(lost) < len(clean) * 0.3
    twice = [m.first_frame for m in _force(_sent(scenario, "duplicated:0.1"))]
    assert len(twice) > len(set(twice)) == len(clean)
    order = [m.first_frame for m in _force(_sent(scenario, "disordered:0.1"))]
    assert order != sorted(order)
    assert sorted(order) == [m.first_frame for m in clean]
    refused = 0
    for s in _sent(scenario, "truncated:0.1"):
        try:
            decode_force(s.payload)
        except WireError:
            refused += 1
    assert refused > 5
    with pytest.raises(WireError):
        _force(_sent(scenario, "nan:1"))


def test_restart_begins_a_new_stream_and_truth_follows_it() -> None:
    scenario = empty(1, 6.0)
    blocks = _force(_sent(scenario, "restart:2@2"))
    streams = [b.stream for b in blocks]
    assert len(set(streams)) == 2
    again = next(b for b in blocks if b.stream != streams[0])
    assert again.first_frame == 0
    where = place_in_streams(Device(), [Fault("restart", 2.0, 2.0)])
    clean = _force(_sent(scenario))
    same = next(b for b in clean if np.array_equal(b.samples, again.samples))
    stream, frame = where(Device().start_offset + same.first_frame / Device().frames_per_second)
    assert stream == again.stream
    assert frame == pytest.approx(0.0, abs=1e-6)


def test_clock_step_and_wrong_rate() -> None:
    scenario = empty(1, 6.0)
    steps = np.diff([b.t_ns for b in _force(_sent(scenario, "clock_step:5@3"))]) / 1e9
    assert np.sum(steps > 4.0) == 1
    slow = _force(_sent(scenario, "rate:188"))
    seconds = (slow[-1].t_ns - slow[0].t_ns) / 1e9
    assert (slow[-1].first_frame / seconds) == pytest.approx(188.0, rel=1e-6)
    assert {b.rate_hz for b in slow} == {200.0}


@pytest.mark.parametrize("text", ["nonsense", "gain:x", "gain:1@x", "dead:99", "gain:1.2.3", ""])
def test_faults_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(FaultError):
        check_faults([parse_fault(text)], layout())
