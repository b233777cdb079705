"""`moundfeed report` as a user runs it, on an invented session."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path

import msgspec
import pytest

from analysis.baseline import Standing
from analysis.running import pitch_rows
from analysis.sessions.measured import measure
from analysis.sessions.order import in_time_order
from analysis.sessions.stored import read_session
from analysis.words import STANDING
from stream.actions import Void
from stream.checks.verdict import Report, Result, Status
from stream.outputs import NotCountedRecord, PitchRecord
from stream.recording.reader import read_recording
from stream.recording.session import Session
from tests.report.conftest import NASTY, SOURCE
from tui.commands.main import main

VOID_TAGS = {"meta", "path"}


class Page(HTMLParser):
    """What a browser would see: tags with their attributes, texts, and whether all is closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.said = ""
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID_TAGS:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] != ["style"]:
            self.said += data + "\n"


def report(*arguments: Path | str, code: int = 0) -> str:
    names = [str(a) for a in arguments]
    out = Path(names[0]).parent / "out.html"
    assert main(["report", *names, "-o", str(out), "--overwrite"]) == code
    return out.read_text("utf-8") if code == 0 else ""


def test_one_file_that_asks_nobody(folder: Path) -> None:
    text = report(folder)
    page = Page(text)
    kinds = {tag for tag, _ in page.tags}
    assert kinds.isdisjoint({"script", "link", "img", "iframe", "object", "embed", "base"})
    assert not re.findall(r"url\(|@import|https?:(?!//www\.w3\.org/2000/svg)", text)
    for _, attributes in page.tags:
        assert not [a for a in attributes if a.startswith("on") or a in ("href", "src")]
    assert ((folder.parent / "out.html").stat().st_mode & 0o077) == 0
    assert report(folder) == text  # the same again, to the last byte


def test_it_tells_what_a_reader_needs(folder: Path) -> None:
    said = Page(report(folder)).said
    for must in (
        "descriptive feedback, not medical advice",
        "Decisions on workload, injury and return to play belong to licensed staff",
        "consent",
        "No set-up check was made for this session: its figures are unproven.",
        "At the end: The zero moved by",
        "12 pitches gave the stored numbers, bit for bit",
        "1.96 √2 times the typical error (Weir 2005)",
        "least-squares line",
        "low-pass of 40 Hz",
        "filter_hz = 40.0",
        'name = "two-plates"',
        "drive leg",
    ):
        assert must in said, must
    for file in ("recording-001.mcap", "pitches.jsonl", "roster.csv"):
        assert hashlib.sha256((folder / file).read_bytes()).hexdigest() in said
    records = [r for r in Session.open(folder).pitches() if isinstance(r, PitchRecord)]
    assert len(records) == 12
    assert f"\n{records[0].metrics['drive_peak_bw']:.0f}\n" in said


def test_no_text_gets_out_into_the_page(nasty: Path) -> None:
    text = report(nasty)
    page = Page(text)
    assert "script" not in {tag for tag, _ in page.tags}
    assert "<b>" not in text
    for unseen in ("\u202e", "\x1b"):
        assert unseen not in text
    shown = NASTY.replace("\u202e", "\ufffd").replace("\x1b", "\ufffd")
    # As note, as reason (remark and list), as why of a movement.
    assert page.said.count(shown) == 4
    assert "<b>P&9" in page.said


def test_of_few_pitches_it_says_so_and_judges_nothing(folder: Path) -> None:
    lines = (folder / "pitches.jsonl").read_bytes().splitlines(keepends=True)
    few = [line for line in lines if b'"number"' in line][:4]
    (folder / "pitches.jsonl").write_bytes(b"".join(few))
    said = Page(report(folder)).said
    assert "Too few pitches to compare: P01 (it takes 6)." in said
    for judging in ("spreads or more", "no trend stands out", "rose", "fell", "= usual\n"):
        assert judging not in said, judging
    assert "too few pitches (it takes 10)" in said
    assert "\ntoo few\n" in said  # spread, and typical error


def test_it_says_of_a_pitch_what_the_screens_say(folder: Path) -> None:
    """Compared with earlier pitches only: a late change of all does not touch the early ones."""
    rows = pitch_rows(read_session(folder).pitches)
    text = report(folder)
    # Cells of the table of pitches: number, time, pitcher, values, like the earlier, remarks.
    found = re.findall(r"<tr><td>(\d+)</td><td>[^<]*</td><td class='words'>.*?</tr>", text)
    assert [int(n) for n in found] == [r.record.number for r in rows]
    for row in rows:
        sign, word = STANDING[row.standing]
        number = row.record.number
        line = re.search(rf"<tr><td>{number}</td><td>[^<]*</td><td class='words'>.*?</tr>", text)
        assert line is not None
        assert f"<td class='words'>{sign} {word}</td>" in line[0], number
    assert {row.standing for row in rows} > {Standing.TOO_FEW}


def test_it_is_dated_by_its_recording(folder: Path) -> None:
    session = read_session(folder)
    began = next(read_recording(session.recordings[0]).packets()).received_ns
    at = datetime.fromtimestamp(began / 1e9, UTC)
    assert f"{at:%Y-%m-%d}" != session.about.created[:10]
    said = Page(report(folder)).said
    assert f"Session, {at:%Y-%m-%d %H:%M} UTC\n" in said
    assert f"{at:%Y-%m-%d %H:%M:%S} UTC (its first recording's first message)" in said
    for path in session.recordings:
        path.unlink()
    said = Page(report(folder)).said
    assert f"Session, {session.about.created[:16].replace('T', ' ')} UTC\n" in said
    assert "its folder: no recording tells" in said


def test_movements_not_counted_have_their_time(folder: Path) -> None:
    session = read_session(folder)
    movement = session.not_counted[0]
    first = session.pitches[0]
    contact = first.foot_contact_frame
    assert contact is not None
    at_ns = measure(session).pitches[0].at_ns + (movement.frame - contact) / 200.0 * 1e9
    about = {datetime.fromtimestamp(at_ns / 1e9 + s, UTC) for s in (-0.05, 0.05)}
    said = Page(report(folder)).said
    assert any(f"\n{at:%H:%M:%S}\n{movement.frame:.0f}\n" in said for at in about)


@pytest.fixture(scope="module")
def one_deck(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session on one rigid deck with traffic; with this seed it loses two real pitches."""
    folder = tmp_path_factory.mktemp("one_deck")
    made = folder / "made.mcap"
    words = ["--layout", "four-corner", "--seed", "8", "--quick", "--block", "50"]
    assert main(["simulate", "--to", str(made), *words]) == 0
    assert main(["replay", str(made), "--session", str(folder / "session")]) == 0
    return folder / "session"


def test_a_ball_that_was_measured_makes_a_movement_not_counted_doubtful(
    one_deck: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(one_deck, tmp_path / "session"))
    said = Page(report(folder)).said
    assert said.count(" later: the reason is doubtful, this may have been a pitch\n") == 2
    assert "Ball speeds that belong to no pitch\n" in said
    # Time and speed of each, and what was on the mound then.
    told = re.findall(
        r"\d\d:\d\d:\d\d\n3\d\.\d\d\nthe movement at \d\d:\d\d:\d\d, not counted \(no landing\)"
        r": doubtful, for a ball was measured\n",
        said,
    )
    assert len(told) == 2
    for path in folder.glob("recording-*.mcap"):
        path.unlink()
    assert "Ball speeds that belong to no pitch are not known" in Page(report(folder)).said


def test_estimates_are_marked_wherever_they_are_printed(one_deck: Path, told: Path) -> None:
    text = report(one_deck)
    record = read_session(one_deck).pitches[0]
    assert {"landing_peak_bw", "stride_m"} <= set(record.estimated)
    assert "drive_peak_bw" not in record.estimated
    rows = re.findall(r"<tr><td>(?:P0\d</td><td class='words'>)?(\w[^<]*)</td>(.*?)</tr>", text)
    seen = set()
    for name, cells in rows:
        quantity = name.partition(",")[0]
        values = [v for v in re.findall(r">([^<]+)<", cells) if re.search(r"\d\.?\d* to ", v)]
        for value in values:
            marked = quantity in ("Landing peak", "Push-off forward", "Landing braking", "Stride")
            assert value.startswith("≈") is marked, (name, value)
            seen.add(quantity)
    assert {"Landing peak", "Push-off peak", "Stride"} <= seen
    assert ">≈Landing peak, % BW</text>" in text
    assert ">Push-off peak, % BW</text>" in text
    assert ">≈Vertical force, % body weight</text>" in text
    assert "≈ marks an estimate." in text
    several = report(told, one_deck)
    row = re.search(
        r">P01</td><td class='words'>Landing peak, % body weight</td>(.*?)</tr>", several
    )
    assert row is not None
    # Measured in the one, an estimate in the other.
    cells = re.findall(r"<td>([^<]+)<", row[1])
    assert [cell.startswith("≈") for cell in cells[:2]] == [False, True]
    assert "≈" not in report(told)


def test_where_every_ball_speed_has_its_pitch_it_says_so(folder: Path) -> None:
    assert "Every ball speed has its pitch." in Page(report(folder)).said


def test_a_report_that_is_there_is_not_replaced_unasked(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "kept.html"
    out.write_text("mine")
    assert main(["report", str(folder), "-o", str(out)]) == 2
    assert capsys.readouterr().err.endswith("is there already; name another, or say --overwrite\n")
    assert out.read_text() == "mine"
    assert main(["report", str(folder), "-o", str(out), "--overwrite"]) == 0
    assert out.read_text() == report(folder)


def test_what_was_left_out_is_listed_with_its_reason(folder: Path) -> None:
    session = Session.open(folder)
    action = Void(source=SOURCE, t_ns=2, number=3, reason="slipped on the slope")
    session.add_log("action", msgspec.to_builtins(action))
    session.close()
    said = Page(report(folder)).said
    assert said.count("slipped on the slope") == 2
    assert "left out" in said
    movements = [r for r in session.pitches() if isinstance(r, NotCountedRecord)]
    assert movements
    assert said.count(movements[0].why) == sum(m.why == movements[0].why for m in movements)
    assert "mean of 5 pitches" in said
    assert "mean of 6 pitches" in said


@pytest.mark.parametrize(
    ("ok", "says"),
    [
        (True, "The set-up check of this session passed (1 checks"),
        (False, "The set-up check of this session did not pass (zero_noise)."),
    ],
)
def test_the_set_up_check_is_told(folder: Path, ok: bool, says: str) -> None:
    result = Result(
        "zero_noise", Status.PASS if ok else Status.FAIL, 1.0, "N", "under 2 N", "Channel 3 hums."
    )
    made = Report(ok, (result,), SOURCE, "two-plates", None)
    session = Session.open(folder)
    session.keep_check(msgspec.to_builtins(made))
    session.close()
    said = Page(report(folder)).said
    assert says in said
    assert ("Channel 3 hums." in said) is not ok


def test_damage_and_lost_recordings_are_said(folder: Path) -> None:
    path = folder / "recording-001.mcap"
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    said = Page(report(folder)).said
    assert "It was not closed (a crash or power cut)" in said
    assert "cannot be found in the recordings any more" in said
    path.unlink()
    said = Page(report(folder)).said
    assert "drive leg" not in said
    assert "cannot be found in the recordings any more" in said


def test_numbers_that_came_out_otherwise_are_told_without_curves(folder: Path) -> None:
    path = folder / "pitches.jsonl"
    text = path.read_text()
    changed = re.sub(r'("number":12,.*?"drive_peak_bw":)[0-9.]+', r"\g<1>73.0", text)
    assert changed != text
    path.write_text(changed)
    said = Page(report(folder)).said
    assert "Other numbers than stored came for 12:" in said
    assert "11 pitches gave the stored numbers" in said
    assert "\n73\n" in said
    assert "Pitch 12: Push-off" in said  # so far from the others that it is told


def test_a_joined_file_with_rows_and_pitches_alone(folder: Path) -> None:
    table = folder.parent / "radar.csv"
    table.write_text("pitch,speed_mph,elbow_nm\n1,90,61\n2,91,62\n77,80,1\n")
    said = Page(report(folder, "--join", str(table))).said
    assert "radar.csv was joined by pitch number: 2 of 12 pitches" in said
    assert "there is no pitch 77" in said
    assert "Pitches without a row in the file: 3, 4, 5," in said
    assert "\n40.23\n" in said  # 90 mph (NIST SP 811)


def test_several_sessions_side_by_side(folder: Path, told: Path) -> None:
    session = Session.open(folder)
    action = Void(source=SOURCE, t_ns=2, number=3, reason="")
    session.add_log("action", msgspec.to_builtins(action))
    session.close()
    said = Page(report(folder, told)).said
    assert "Price & Bonett 2002" in said
    assert "too few sessions to say what is usual between days" in said
    assert "Session 1, " in said
    assert "Session 2, " in said
    # The second is a copy of the first, with its id.
    number = Session.open(told).about.id
    assert f"Session 1 and Session 2 are copies of one session (the same id, {number})" in said
    about = folder / "session.json"
    about.write_text(about.read_text().replace(number, "another"))
    assert "copies" not in Page(report(folder, told)).said


@pytest.mark.parametrize("order", [("zulu", "alpha"), ("alpha", "zulu")])
def test_sessions_that_begin_at_one_time_stand_as_they_were_named(
    told: Path, tmp_path: Path, order: tuple[str, str]
) -> None:
    """Their random ids say nothing of the order, and the difference's sign hangs on it."""
    for name in order:
        about = Path(shutil.copytree(told, tmp_path / name)) / "session.json"
        kept = msgspec.json.decode(about.read_bytes())
        about.write_bytes(msgspec.json.encode(kept | {"id": name}))
    said = Page(report(*(tmp_path / name for name in order))).said
    assert f"Session 1, {order[0]}, 2025-04-01 17:00 UTC" in said
    assert f"Session 2, {order[1]}, 2025-04-01 17:00 UTC" in said
    assert f"{order[0]} and {order[1]} of mound-a begin at the same time" in said
    sittings = in_time_order(read_session(tmp_path / name) for name in order)
    assert tuple(s.name for s in sittings) == order


def test_it_says_that_a_simulated_session_is_invented(folder: Path) -> None:
    first = "Invented data: the recording says that it was simulated."
    said = Page(report(folder)).said
    assert said.index(first) < said.index("What was measured, and how")
    # One without its recording says nothing of itself.
    (folder / "recording-001.mcap").unlink()
    assert "Invented data" not in Page(report(folder)).said


def test_a_session_without_pitches(folder: Path) -> None:
    (folder / "pitches.jsonl").unlink()
    (folder / "recording-001.mcap").unlink()
    said = Page(report(folder)).said
    assert "No pitch was measured in this session." in said


def test_whose_spread_was_taken_is_said(folder: Path) -> None:
    said = Page(report(folder)).said
    assert "Spread here is the published typical error of a quantity" in said
    assert "for no pitch has 15 of the pitcher's before it yet" in said


def test_of_two_earlier_sessions_it_says_in_one_sentence_that_they_are_too_few(
    told: Path, tmp_path: Path
) -> None:
    folders = [Path(shutil.copytree(told, tmp_path / name)) for name in "abc"]
    said = Page(report(*folders)).said
    assert "Earlier sessions: 2, too few sessions to say what is usual between days" in said
    assert "earlier spread" not in said


def test_its_title_tells_it_from_others(folder: Path) -> None:
    text = report(folder)
    assert "<title>Session report: mound-a, 2025-04-01</title>" in text
    assert "<h1>Session report: mound-a, 2025-04-01</h1>" in text


def test_settings_and_layout_stand_once_at_the_end_folded_up(folder: Path, told: Path) -> None:
    text = report(folder, told)
    folded = text.index("<details><summary>Settings</summary>")
    assert text.rindex("<table") < folded
    assert text.count("filter_hz = 40.0") == 1
    assert text.count("<details>") == 2


def test_what_the_files_lack_stands_at_the_top_and_on_the_terminal(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = (folder / "pitches.jsonl").read_bytes().splitlines(keepends=True)
    kept = [line for line in lines if not re.search(rb'"number":([5-9]|1\d),', line)]
    (folder / "pitches.jsonl").write_bytes(b"".join(kept))
    lack = "Pitches 5 to 12 have no stored line (the monitor broke off before they were written)."
    said = Page(report(folder)).said
    assert said.index(lack) < said.index("What was measured, and how")
    assert capsys.readouterr().err.splitlines()[-1] == f"moundfeed: {lack}"
    (folder / "recording-001.mcap").unlink()
    said = Page(report(folder)).said
    assert said.index("There is no recording: ") < said.index("What was measured, and how")
    assert "moundfeed: There is no recording: " in capsys.readouterr().err


def test_a_folder_that_is_not_there_names_those_that_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for number in range(8):
        (tmp_path / f"s{number}").mkdir()
        (tmp_path / f"s{number}" / "session.json").touch()
        os.utime(tmp_path / f"s{number}" / "session.json", (number, number))
    assert main(["report", "nosuch", "-o", "out.html"]) == 2
    assert capsys.readouterr().err == (
        "moundfeed: nosuch is not a session (it is not there). Sessions here: s3, s4, s5, s6, s7 "
        "and 3 more: moundfeed report s7 -o report.html\n"
    )


def test_the_columns_of_a_joined_file_have_one_number_of_decimals(folder: Path) -> None:
    table = folder.parent / "lab.csv"
    rows = "".join(f"{n},{40 + n},{4 + n / 7}\n" for n in range(1, 13))
    table.write_text(f"pitch,elbow_nm,hip_deg\n{rows}")
    text = report(folder, "--join", str(table))
    whole, many = r"<td>4\d</td><td>\d\.\d\d</td>", r"hip_deg</td><td>\d+</td><td>\d\.\d{3}<"
    assert len(re.findall(whole, text)) >= 9
    assert re.search(many, text)


def test_a_low_pass_that_does_nothing_is_not_said_to_have_been(folder: Path) -> None:
    recording = folder / "recording-001.mcap"
    settings = folder.parent / "fast.toml"
    settings.write_text("filter_hz = 500.0\n")
    fast = folder.parent / "fast"
    words = ["replay", str(recording), "--settings", str(settings), "--session", str(fast)]
    assert main(words) == 0
    said = Page(report(fast)).said
    assert "unfiltered (a low-pass of 500 Hz does nothing at 200 Hz)" in said


def test_a_named_result(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    result = Session.open(folder).new_result("soft")
    (result / "settings.toml").write_text("filter_hz = 20.0\n")
    (result / "pitches.jsonl").write_bytes((folder / "pitches.jsonl").read_bytes())
    said = Page(report(folder, "--result", "soft")).said
    assert "low-pass of 20 Hz" in said
    assert "Other numbers than stored came for 1, 2, 3" in said
    report(folder, "--result", "none", code=2)
    assert "has no result 'none'; it has soft" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["{told}", "{told}"], "a session is named twice"),
        (["{told}", "{tmp}"], "is not a session"),
        (["{told}", "--join", "{tmp}/none.csv"], "none.csv: No such file"),
        (["{told}", "{tmp}", "--join", "{tmp}/none.csv"], "--join takes one session"),
    ],
)
def test_wrong_use_is_one_line(
    told: Path,
    tmp_path: Path,
    arguments: list[str],
    says: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    filled = [a.format(told=told, tmp=tmp_path) for a in arguments]
    assert main(["report", *filled, "-o", str(tmp_path / "out.html")]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1
    assert not (tmp_path / "out.html").exists()
    assert main(["report", str(told), "-o", str(tmp_path / "no" / "out.html")]) == 2
