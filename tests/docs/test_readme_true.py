"""The README names only commands that exist, and its device speaks the feed's format."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stream.wire import TopicKind, decode_force, parse_topic
from tui.commands.main import COMMANDS, main

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")


def test_every_command_of_the_table_exists(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    told = capsys.readouterr().out
    listed = re.findall(r"^\| `(\w+)` \|", README, flags=re.MULTILINE)
    assert listed
    for name in listed:
        assert re.search(rf"^    {name}\s", told, flags=re.MULTILINE), name


def test_the_quick_start_is_two_commands() -> None:
    quick = README.split("## Quick start")[1].split("```")[1]
    assert quick.split("\n")[1:-1] == ["make demo", "make test"]


def test_every_option_in_the_readme_is_one_of_a_command(
    capsys: pytest.CaptureFixture[str],
) -> None:
    helps = ""
    for name in re.findall(r"^\| `(\w+)` \|", README, flags=re.MULTILINE):
        with pytest.raises(SystemExit):
            main([name, "--help"])
        helps += capsys.readouterr().out
    for option in set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", README)) - {"--help"}:
        assert option in helps, option


def test_the_device_of_the_readme_sends_what_the_monitor_reads() -> None:
    program = README.split("```python\n")[1].split("```")[0]
    there: dict[str, Any] = {"__name__": "device"}
    exec(compile(program, "README.md", "exec"), there)
    block = np.arange(48.0).reshape(4, 12)
    topic, payload = there["message"]("start-1", 8, 40_000_000, block)
    assert parse_topic(topic.decode()) == ("mound-a", TopicKind.FORCE)
    message = decode_force(payload)
    assert (message.stream, message.first_frame, message.t_ns) == ("start-1", 8, 40_000_000)
    assert message.rate_hz == 200.0
    np.testing.assert_array_equal(message.samples, block)


def test_commands_have_names_of_their_own() -> None:
    names = [name for name, _, _ in COMMANDS]
    assert len(set(names)) == len(names)
