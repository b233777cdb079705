"""The session folder: explains itself, survives crashes, keeps names and strangers out."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest

from stream.outputs import NotCountedReason, NotCountedRecord, PitchRecord, record_json
from stream.recording.session import Session, SessionError
from stream.roster import Roster, roster_from_csv

ROSTER = roster_from_csv("pitcher,throws,name\nP01,R,An Invented Name\nP02,L,Another\n")
LAYOUT = "name = 'x'\n"
SETTINGS = "filter_hz = 40.0\n"


def pitch(number: int, note: str = "") -> PitchRecord:
    return PitchRecord(
        source="mound-a",
        stream="s",
        number=number,
        pitcher="P01",
        throws="R",
        foot_contact_frame=1000.5 + number,
        events_s={"foot_contact": 0.0},
        body_weight_n=900.0,
        metrics={"drive_peak_bw": 150.0, "stride_m": None},
        note=note,
    )


MOVEMENT = NotCountedRecord("mound-a", "s", NotCountedReason.STEP_OFF, 5.0, "stepped off")


def begin(folder: Path, **changes: object) -> Session:
    given: dict[str, object] = {
        "source": "mound-a",
        "layout_text": LAYOUT,
        "settings_text": SETTINGS,
        "roster": ROSTER,
        **changes,
    }
    return Session.open_or_create(folder, **given)  # type: ignore[arg-type]


def test_what_is_kept_comes_back(tmp_path: Path) -> None:
    session = begin(tmp_path / "s")
    records: list[PitchRecord | NotCountedRecord] = [
        pitch(1),
        MOVEMENT,
        pitch(2, 'says "not_counted" \x1b[31m\n=1+1'),
    ]
    for record in records:
        session.add_record(record)
    session.add_log("action", {"action": "void", "number": 2, "reason": "slipped"}, t_ns=7)
    session.keep_check({"ok": True, "checks": []})
    assert session.close()
    again = Session.open(tmp_path / "s")
    assert list(again.pitches()) == records
    assert again.next_number() == 3
    assert (again.layout_text, again.settings_text) == (LAYOUT, SETTINGS)
    assert again.check() == {"ok": True, "checks": []}
    void, check = again.log()
    assert void == {
        "v": 1, "t_ns": 7, "what": "action", "action": "void", "number": 2, "reason": "slipped",
    }  # fmt: skip
    assert (check["what"], check["result"]) == ("check", {"ok": True, "checks": []})


def test_a_text_that_reads_like_a_key_of_the_other_kind_hides_no_record(tmp_path: Path) -> None:
    session = begin(tmp_path / "s")
    noted = pitch(1, "not_counted")
    thrown = msgspec.structs.replace(pitch(2), pitcher="not_counted")
    movement = NotCountedRecord("number", "foot_contact_frame", NotCountedReason.OTHER, 5.0, "v")
    for record in (noted, thrown, movement):
        session.add_record(record)
    session.close()
    assert list(session.pitches()) == [noted, thrown, movement]
    assert session.next_number() == 3


def test_a_second_run_continues_the_same_session(tmp_path: Path) -> None:
    folder = tmp_path / "s"
    first = begin(folder)
    assert first.next_recording() == (1, folder / "recording-001.mcap")
    first.next_recording()[1].touch()
    first.add_record(pitch(1))
    first.close()
    second = begin(folder)
    assert second.about == first.about
    assert second.next_recording() == (2, folder / "recording-002.mcap")
    second.add_record(pitch(second.next_number()))
    second.close()
    assert [r.number for r in second.pitches() if isinstance(r, PitchRecord)] == [1, 2]
    (folder / "recording-999.mcap").touch()
    (folder / "recording-1000.mcap").touch()
    (folder / "recording-2.mcap").touch()  # not one of ours
    assert second.next_recording()[0] == 1001
    assert [p.name for p in second.recordings()] == [
        "recording-001.mcap",
        "recording-999.mcap",
        "recording-1000.mcap",
    ]


@pytest.mark.parametrize("cut", range(0, 400, 7))
def test_a_line_cut_off_by_a_crash_harms_no_other(tmp_path: Path, cut: int) -> None:
    folder = tmp_path / "s"
    session = begin(folder)
    session.add_record(pitch(1))
    session.add_record(pitch(2))
    session.close()
    path = folder / "pitches.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole[: -min(cut, len(whole) - 1)] if cut else whole)
    again = begin(folder)
    kept = list(again.pitches())
    assert kept == [pitch(1), pitch(2)][: len(kept)]
    again.add_record(pitch(9))
    again.close()
    assert list(Session.open(folder).pitches())[-1] == pitch(9)
    assert [r for r in Session.open(folder).pitches() if r != pitch(9)][: len(kept)] == kept


def test_everything_is_the_owners_alone(tmp_path: Path) -> None:
    session = begin(tmp_path / "s")
    session.add_record(pitch(1))
    session.add_log("note", {})
    session.keep_check({"ok": False})
    session.new_result("filter-20")
    session.close()
    for path in [session.folder, *session.folder.rglob("*")]:
        assert path.stat().st_mode & 0o077 == 0, path


def test_names_stay_in_the_operators_own_file(tmp_path: Path) -> None:
    session = begin(tmp_path / "s")
    assert session.roster_csv == "pitcher,throws,height_m,weigh_in_kg\nP01,R,,\nP02,L,,\n"
    session.close()
    everything = b"".join(p.read_bytes() for p in session.folder.rglob("*") if p.is_file())
    assert b"Invented" not in everything


@pytest.mark.parametrize(
    "name", ["", ".", "..", "../x", "/etc/x", "a/b", "a\x00b", "a b", "x" * 65]
)
def test_a_results_name_cannot_leave_the_folder(tmp_path: Path, name: str) -> None:
    session = begin(tmp_path / "s")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(SessionError, match="1 to 64 letters"):
        session.new_result(name)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_result_is_never_written_over(tmp_path: Path) -> None:
    session = begin(tmp_path / "s")
    assert session.new_result("filter-20") == tmp_path / "s" / "results" / "filter-20"
    with pytest.raises(SessionError, match="already"):
        session.new_result("filter-20")


@pytest.mark.parametrize("source", ["", "../../x", "a/b", "a b", "ä"])
def test_a_mounds_name_cannot_leave_the_folder(tmp_path: Path, source: str) -> None:
    with pytest.raises(SessionError):
        begin(tmp_path / "s", source=source)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"source": "mound-b"}, "belongs to 'mound-a', not to 'mound-b'"),
        ({"layout_text": "name = 'y'\n"}, "another layout"),
        ({"settings_text": "filter_hz = 20.0\n"}, "another settings"),
    ],
)
def test_a_session_keeps_its_mound_layout_and_settings(
    tmp_path: Path, change: dict[str, object], says: str
) -> None:
    begin(tmp_path / "s").close()
    with pytest.raises(SessionError, match=says):
        begin(tmp_path / "s", **change)


def test_the_roster_may_grow(tmp_path: Path) -> None:
    begin(tmp_path / "s", roster=Roster()).close()
    assert "P02" in begin(tmp_path / "s").roster_csv


def test_no_other_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").touch()
    with pytest.raises(SessionError, match="not empty and not a session"):
        begin(tmp_path / "photos")
    with pytest.raises(SessionError, match="is not a session"):
        Session.open(tmp_path / "photos")
    with pytest.raises(SessionError, match="is not a session"):
        Session.open(tmp_path / "nowhere")


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"\xff\xfe", b'{"v":1}', b"[" * 100_000,
     json.dumps({"v": 2, "id": "x", "source": "a", "created": "", "program": ""}).encode(),
     json.dumps({"v": 1, "id": "x", "source": "../a", "created": "", "program": ""}).encode()],
)  # fmt: skip
def test_a_bad_session_file_is_said_in_a_sentence(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "session.json").write_bytes(content)
    with pytest.raises(SessionError):
        Session.open(tmp_path)


def test_records_are_the_same_bytes_as_on_the_topic(tmp_path: Path) -> None:
    session = begin(tmp_path / "s")
    session.add_record(pitch(1))
    session.close()
    assert (tmp_path / "s" / "pitches.jsonl").read_bytes() == record_json(pitch(1)) + b"\n"
