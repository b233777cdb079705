"""A word that a command does not know: the sentence names the help that has the right ones."""

from __future__ import annotations

import pytest

from tui.commands.main import main


@pytest.mark.parametrize(
    ("words", "command"),
    [(["demo", "--speed", "4"], "moundfeed demo"), (["--speed"], "moundfeed")],
)
def test_an_unknown_option_is_said_with_its_commands_help(
    words: list[str], command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert said.startswith(f"{command}: no such option: --speed")
    assert f"see '{command} --help'" in said
