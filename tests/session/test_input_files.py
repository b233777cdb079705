"""Layouts, settings and rosters from files: a bad one is one sentence, never a crash."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stream.files import (
    FileError,
    load_layout,
    load_roster,
    load_settings,
    parse_layout,
    parse_roster,
    parse_settings,
    settings_text,
    shipped_layouts,
)
from stream.settings import Settings


@pytest.mark.parametrize("name", sorted(shipped_layouts()))
def test_a_shipped_layout_by_its_name_is_the_file(name: str, tmp_path: Path) -> None:
    text = shipped_layouts()[name].read_text()
    copy = tmp_path / "mine.toml"
    copy.write_text(text)
    assert load_layout(name).name == load_layout(str(copy)).name == name
    assert load_layout(name).origin_text == text


@given(
    st.builds(
        Settings,
        filter_hz=st.none() | st.floats(1.0, 1000.0),
        contact_bw=st.floats(0.01, 2.0),
        weight_mismatch=st.floats(0.001, 0.4),
    )
)
def test_settings_come_back_exactly(settings: Settings) -> None:
    assert parse_settings(settings_text(settings), "x") == settings


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"\xff\xfe\x00", "is not text in UTF-8"),
        (b"name = ", "is not TOML"),
        (b"x = " + b"[" * 5000, "is not TOML"),
        (b"contact_bw = -1.0", "contact_bw"),
        (b"contact_bw = nan", "contact_bw"),
        (b"contact_bww = 0.1", "there is no setting 'contact_bww'; there are filter_hz, "),
        (b"#" * (4 * 1024 * 1024 + 1), "is too large"),
    ],
)
def test_bad_settings_name_the_file_and_the_fault(
    tmp_path: Path, content: bytes, says: str
) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(content)
    with pytest.raises(FileError, match=says) as error:
        load_settings(path)
    assert "mine.toml" in str(error.value)


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="shipped layouts are four-corner, tiled, two-plates"):
        load_layout("one-plate")
    with pytest.raises(FileError, match="No such file"):
        load_roster(tmp_path / "roster.csv")
    with pytest.raises(FileError, match="Is a directory"):
        load_roster(tmp_path)


def test_a_roster_saved_by_a_spreadsheet_is_read(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    path.write_bytes("\ufeffpitcher,throws\r\nP01,R\r\n".encode())
    assert load_roster(path).find("P01").throws == "R"
    path.write_bytes(b"pitcher,throws\rP02,L\r")
    assert load_roster(path).find("P02").throws == "L"


def assert_named(parse: Callable[[str, str], object], text: str, name: str) -> None:
    """The text is read, or refused in a sentence that names the file."""
    refusal: FileError | None = None
    try:
        parse(text, name)
    except FileError as error:
        refusal = error
    assert refusal is None or str(refusal).startswith(name)


@given(st.text(max_size=200))
def test_no_text_crashes_the_readers(text: str) -> None:
    for parse in (parse_layout, parse_settings, parse_roster):
        assert_named(parse, text, "x")


@given(
    st.sampled_from(sorted(shipped_layouts())),
    st.integers(0, 3000),
    st.text("[]{}=.0123456789-eE\"' \nabc", max_size=8),
)
def test_no_spoilt_layout_crashes_the_reader(name: str, at: int, put: str) -> None:
    text = shipped_layouts()[name].read_text()
    spoilt = text[:at] + put + text[at + len(put) :]
    assert_named(parse_layout, spoilt, "mine.toml")
