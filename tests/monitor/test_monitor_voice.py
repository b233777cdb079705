from __future__ import annotations

from stream.monitor.voice import AGAIN_S, QUIET_S, Voice
from stream.snapshot import Level, Sentence


class Ear:
    def __init__(self) -> None:
        self.now = 100.0
        self.heard: list[str] = []
        self.voice = Voice(lambda s: self.heard.append(s.text), clock=lambda: self.now)

    def state(self, text: str, level: Level = Level.WARNING, key: str = "k") -> None:
        self.voice.standing([Sentence(level, key, text)])

    def event(self, text: str) -> None:
        self.voice.happened(Sentence(Level.WARNING, "e", text))


def test_a_state_is_said_once() -> None:
    ear = Ear()
    for _ in range(1000):
        ear.state("A broker is gone.")
        ear.now += 1.0
    assert ear.heard == ["A broker is gone."]


def test_a_count_that_grows_is_not_said_each_second() -> None:
    ear = Ear()
    for second in range(60):
        ear.state(f"{second} messages were left out.")
        ear.now += 1.0
    assert 2 <= len(ear.heard) <= 1 + 60 / QUIET_S


def test_a_change_of_level_is_said_at_once() -> None:
    ear = Ear()
    for _ in range(3):
        ear.state("Gone.", Level.ALARM)
        ear.state("Connected.", Level.INFO)
    assert ear.heard == ["Gone.", "Connected."] * 3


def test_an_alarm_that_stands_is_repeated() -> None:
    ear = Ear()
    for _ in range(int(3 * AGAIN_S)):
        ear.state("NOT RECORDING.", Level.ALARM)
        ear.now += 1.0
    assert len(ear.heard) == 3


def test_a_state_that_ended_and_comes_back_is_said_again() -> None:
    ear = Ear()
    for outage in range(2):
        for _ in range(60):
            ear.state("A broker is gone.")
            ear.now += 1.0
        ear.voice.standing([])
        ear.now += 7200.0
        assert len(ear.heard) == outage + 1


def test_a_state_that_flickers_is_not_said_each_time() -> None:
    ear = Ear()
    for _ in range(600):
        ear.state("A broker is gone.")
        ear.now += 1.0
        ear.voice.standing([])
        ear.now += 1.0
    assert ear.heard == ["A broker is gone."]


def test_a_flood_of_faults_becomes_one_line_that_says_how_many() -> None:
    ear = Ear()
    for number in range(5000):
        ear.event(f"Message {number} was left out.")
    ear.now += QUIET_S
    ear.event("Message 5000 was left out.")
    assert ear.heard == [
        "Message 0 was left out.",
        "Message 5000 was left out. (4999 more like this since it was last said.)",
    ]
