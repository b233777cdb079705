"""Stored sessions: as they stand, measured again, and changed afterwards."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from mcap.opcode import Opcode
from msgspec.structs import replace

from analysis.sessions.measured import measure
from analysis.sessions.stored import read_session
from analysis.words import NOT_MEASURED_AGAIN
from stream.actions import Note, Reassign, Restore, Void
from stream.files import FileError
from stream.outputs import record_json
from stream.recording.container import MAGIC
from stream.recording.reader import Recording, read_recording
from stream.recording.records import Record, read_records
from stream.recording.session import Session, SessionError
from stream.roster import Pitcher, Roster
from stream.settings import Settings
from tests.sessions_analysis.made import SOURCE, keep_action, keep_live


def lines(records: object) -> list[bytes]:
    return [record_json(r) for r in records]  # type: ignore[attr-defined]


def test_two_runs_measured_again_give_the_stored_numbers_bit_for_bit(kept: Path) -> None:
    stored = read_session(kept)
    assert len(stored.recordings) == 2
    assert [r.number for r in stored.pitches] == list(range(1, 15))
    shares: list[float] = []
    again = measure(stored, progress=shares.append)
    assert lines(p.record for p in again.pitches) == lines(stored.pitches)
    assert lines(again.not_counted) == lines(stored.not_counted)
    assert again.sentences == ()
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    times = [p.at_ns for p in again.pitches]
    assert times == sorted(times)
    assert len(set(times)) == 14
    # The device's clock is 20 ppm fast (simulated): host times are its frames, to some ms.
    first, last = again.pitches[0], again.pitches[-1]
    frames = (last.record.foot_contact_frame or 0) - (first.record.foot_contact_frame or 0)
    assert (last.at_ns - first.at_ns) / 1e9 == pytest.approx(frames / 200.0, abs=0.05)
    for pitch in again.pitches:
        contact = pitch.record.foot_contact_frame
        assert contact is not None
        first = pitch.traces.first_frame + (0.0 - pitch.traces.time_s[0]) * pitch.traces.rate_hz
        assert first == pytest.approx(contact)


def test_what_the_operator_did_stands_whenever_it_was_done(kept: Path) -> None:
    by_number = {r.number: r for r in read_session(kept).pitches}
    assert by_number[1].flags == ("void",)
    assert (by_number[2].note, "void" in by_number[2].flags) == ("slipped", True)
    assert (by_number[4].note, "void" in by_number[4].flags) == ("foul grip", True)
    assert by_number[5].speed_mps == 31.5
    first_lines = {
        r.number: r for r in Session.open(kept).pitches() if not hasattr(r, "not_counted")
    }
    assert first_lines[4].flags == ()


def test_later_changes_act_in_their_order(session: Session) -> None:
    keep_action(session, Restore(source=SOURCE, t_ns=11, number=2))
    keep_action(session, Void(source=SOURCE, t_ns=12, number=7, reason="wild"))
    keep_action(session, Note(source=SOURCE, t_ns=13, number=7, text="after all"))
    keep_action(session, Void(source=SOURCE, t_ns=14, number=99, reason="there is none"))
    session.add_log("action", {"action": "void", "number": "not one"})
    session.add_log("said", {"text": "something else"})
    session.close()
    stored = read_session(session.folder)
    by_number = {r.number: r for r in stored.pitches}
    # What was noted before the void is back, although its line was written after it.
    assert (by_number[2].note, by_number[2].flags) == ("<i>low</i>", ())
    assert (by_number[7].note, by_number[7].flags) == ("after all", ("void",))
    assert lines(p.record for p in measure(stored).pitches) == lines(stored.pitches)


def test_a_note_on_a_void_pitch_stands_when_it_is_restored(session: Session) -> None:
    # Pitch 2 was voided in the first run, pitch 4 in the second.
    for number in (2, 4):
        keep_action(session, Note(source=SOURCE, t_ns=11, number=number, text="left knee"))
        keep_action(session, Void(source=SOURCE, t_ns=12, number=number, reason="again"))
        keep_action(session, Restore(source=SOURCE, t_ns=13, number=number))
        keep_action(session, Restore(source=SOURCE, t_ns=14, number=number))
    session.close()
    stored = read_session(session.folder)
    by_number = {r.number: r for r in stored.pitches}
    assert [by_number[n].note for n in (2, 4)] == ["left knee"] * 2
    assert lines(p.record for p in measure(stored).pitches) == lines(stored.pitches)


def test_a_pitch_given_to_another_pitcher_is_measured_for_him(session: Session) -> None:
    before = {r.number: r for r in read_session(session.folder).pitches}
    other = next(p for p in read_session(session.folder).roster if p.code != before[3].pitcher)
    for code in ("", other.code):
        keep_action(session, Reassign(source=SOURCE, t_ns=20, number=3, pitcher=code))
    session.close()
    stored = read_session(session.folder)
    pitch = next(r for r in stored.pitches if r.number == 3)
    assert (pitch.pitcher, pitch.throws) == (other.code, other.throws)
    assert pitch.metrics != before[3].metrics  # another height, at least
    assert pitch.metrics["drive_peak_n"] == before[3].metrics["drive_peak_n"]
    assert lines(p.record for p in measure(stored).pitches) == lines(stored.pitches)


def test_without_a_recording_nothing_is_made_up_for_another_pitcher(session: Session) -> None:
    for path in session.recordings():
        path.unlink()
    keep_action(session, Reassign(source=SOURCE, t_ns=20, number=3, pitcher="P99"))
    session.close()
    pitch = next(r for r in read_session(session.folder).pitches if r.number == 3)
    assert pitch.pitcher == "P99"
    assert pitch.throws is None
    assert set(pitch.metrics.values()) == {None}
    assert NOT_MEASURED_AGAIN in pitch.flags
    (says,) = measure(read_session(session.folder)).sentences
    assert "cannot be found in the recordings any more" in says


def test_equal_pitchers_need_no_recording(session: Session) -> None:
    known = session.roster_csv
    twin = Roster((Pitcher("P01", "R", 1.8), Pitcher("P02", "R", 1.8)))
    assert known != twin.to_csv()
    (session.folder / "roster.csv").write_text(twin.to_csv())
    for path in session.recordings():
        path.unlink()
    before = next(r for r in read_session(session.folder).pitches if r.number == 3)
    other = "P02" if before.pitcher == "P01" else "P01"
    keep_action(session, Reassign(source=SOURCE, t_ns=20, number=3, pitcher=other))
    session.close()
    pitch = next(r for r in read_session(session.folder).pitches if r.number == 3)
    assert (pitch.pitcher, pitch.metrics) == (other, before.metrics)


def test_of_the_curves_only_the_window_wanted_is_kept(kept: Path) -> None:
    stored = read_session(kept)
    whole = measure(stored).pitches[0].traces
    cut = measure(stored, window_s=(-0.5, 0.25)).pitches[0].traces
    skipped = cut.first_frame - whole.first_frame
    assert len(cut.time_s) == 150
    assert -0.5 <= cut.time_s[0] < -0.495
    np.testing.assert_array_equal(cut.lead, whole.lead[skipped : skipped + 150])
    assert cut.lead.base is None


def test_other_settings_give_other_numbers_and_change_nothing_stored(kept: Path) -> None:
    stored = read_session(kept)
    rough = measure(stored, settings=replace(stored.settings, filter_hz=None))
    assert [p.record.number for p in rough.pitches] == [r.number for r in stored.pitches]
    assert rough.pitches[0].record.metrics != stored.pitches[0].metrics
    assert read_session(kept).pitches == stored.pitches


def test_a_named_result_is_read_with_its_own_settings(session: Session) -> None:
    result = session.new_result("rough")
    first = (session.folder / "pitches.jsonl").read_bytes().splitlines(keepends=True)
    (result / "pitches.jsonl").write_bytes(b"".join(first[:3]))
    (result / "settings.toml").write_text("filter_hz = 20.0\n")
    stored = read_session(session.folder, "rough")
    assert (stored.result, len(stored.pitches)) == ("rough", 3 - len(stored.not_counted))
    assert stored.settings == Settings(filter_hz=20.0)
    for name in ("fine", "../..", ""):
        with pytest.raises(SessionError, match="it has rough"):
            read_session(session.folder, name)


def test_what_the_recordings_lack_is_said(session: Session) -> None:
    first, second = session.recordings()
    data = first.read_bytes()
    first.write_bytes(data[: len(data) // 2])
    said = measure(read_session(session.folder)).sentences
    assert any(s.startswith("recording-001.mcap: It was not closed") for s in said)
    assert any("cannot be found in the recordings any more" in s for s in said)
    second.write_bytes(b"no recording")
    with pytest.raises(FileError, match=r"recording-002\.mcap"):
        measure(read_session(session.folder))


def test_a_pitch_whose_line_a_crash_prevented(simulated: Recording, tmp_path: Path) -> None:
    packets = list(simulated.packets())
    third = len(packets) // 3
    keep_live(tmp_path / "s", simulated, [packets[:third]], {})
    path = tmp_path / "s" / "pitches.jsonl"
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))
    count = len(read_session(tmp_path / "s").pitches)
    said = measure(read_session(tmp_path / "s")).sentences
    assert said == (
        f"Pitch {count + 1} has no stored line (the monitor broke off before it was written).",
    )
    keep_live(tmp_path / "s", simulated, [packets[third:]], {})
    again = measure(read_session(tmp_path / "s"))
    stored = read_session(tmp_path / "s").pitches
    assert lines(p.record for p in again.pitches) == lines(stored)
    assert any(s.startswith(f"Number {count + 1} was given twice") for s in again.sentences)


def test_a_folder_that_is_no_session(tmp_path: Path) -> None:
    with pytest.raises(SessionError, match="not a session"):
        read_session(tmp_path)
    shutil.rmtree(tmp_path)
    with pytest.raises(SessionError):
        read_session(tmp_path)


def test_how_long_nothing_was_recorded_after_a_run_that_was_cut_off(session: Session) -> None:
    whole = measure(read_session(session.folder)).sentences
    assert not any("nothing was" in sentence for sentence in whole)
    first, second = session.recordings()
    first.write_bytes(first.read_bytes()[: first.stat().st_size * 3 // 4])
    *_, last = read_recording(first).packets()
    missed_s = (next(read_recording(second).packets()).received_ns - last.received_ns) / 1e9
    assert 2.0 < missed_s < 120.0
    said = [s for s in measure(read_session(session.folder)).sentences if "nothing was" in s]
    assert said == [
        "After the recording that was not closed nothing was recorded for "
        f"{missed_s:.0f} s: a pitch thrown then is not in the list."
    ]


def test_a_run_that_was_cut_off_before_its_first_message_tells_of_no_time(session: Session) -> None:
    first, _ = session.recordings()
    with first.open("rb") as file:
        records = read_records(file, len(MAGIC), frozenset(Opcode))
        chunks = (r.offset for r in records if isinstance(r, Record) and r.opcode == Opcode.CHUNK)
        head = next(chunks)
    first.write_bytes(first.read_bytes()[:head])
    said = [s for s in measure(read_session(session.folder)).sentences if "nothing was" in s]
    assert said == []
