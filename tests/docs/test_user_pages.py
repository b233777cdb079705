"""The pages for users name only commands, options, keys, words and files that exist.

Every command line on them is given to the program's own parser, each key to the screen that the
page says has it, and every word in capitals is looked for in the screens' code.
"""

from __future__ import annotations

import re
import shlex
from itertools import chain
from pathlib import Path

import pytest
from textual.binding import Binding
from textual.dom import DOMNode

from analysis.baseline import Baseline, Comparison, Standing
from stream.settings import Settings
from tui.app import MoundfeedApp
from tui.commands.main import COMMANDS, _parser
from tui.replaying import ReplayApp
from tui.review.app import ReviewApp
from tui.screens.check import CheckScreen
from tui.screens.dialogs import Choice, LeaveDialog
from tui.units import Units
from tui.widgets.session_table import SessionTable
from tui.words import difference_words

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGES = {
    name: (DOCS / f"{name}.md").read_text("utf-8")
    for name in ("operator", "coach", "biomechanist", "connect-a-device", "past-one-machine")
}
SHELL = re.compile(r"^ *```sh\n(.*?)^ *```", flags=re.DOTALL | re.MULTILINE)
SPAN = re.compile(r"`([^`]+)`", flags=re.DOTALL)
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]+")


def command_lines(page: str) -> list[str]:
    """Return the program's command lines on a page: of its blocks, and set within its text."""
    blocks = [line for block in SHELL.findall(page) for line in block.splitlines()]
    spans = SPAN.findall(re.sub(r"```.*?```", "", page, flags=re.DOTALL))
    lines = chain((b.strip() for b in blocks), (" ".join(s.split()) for s in spans))
    return [line for line in lines if line.startswith("moundfeed ")]


CASES = [(name, line) for name, page in PAGES.items() for line in command_lines(page)]


def test_there_are_command_lines_to_look_at() -> None:
    assert len(CASES) > 20
    assert {name for name, _ in CASES} == set(PAGES)


@pytest.mark.parametrize(("page", "line"), CASES)
def test_the_program_takes_every_command_line(
    page: str, line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    words = shlex.split(line, comments=True)[1:]
    assert words[0] in {name for name, _, _ in COMMANDS}
    only_named = len(words) == 1 or "..." in words or words[-1] == "list"
    if only_named or (words[0] == "study" and len(words) == 2):
        # It is spoken of, not written out: its name and options are what is claimed.
        words = [*[w for w in words if w != "..."][: 2 if words[0] == "study" else 1], "--help"]
        with pytest.raises(SystemExit) as end:
            _parser(words[0]).parse_args(words)
        assert end.value.code == 0
        told = capsys.readouterr().out
        assert all(option in told for option in OPTION.findall(line))
    else:
        options = _parser(words[0]).parse_args(words)
        assert options.run is not None


def test_every_other_option_is_one_of_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    helps = ""
    for name, _, _ in COMMANDS:
        with pytest.raises(SystemExit):
            _parser(name).parse_args([name, "--help"])
        helps += capsys.readouterr().out
    for page in PAGES.values():
        for option in OPTION.findall(re.sub(r"`python -m benchmarks[^`]*`", "", page)):
            assert option in helps or any(option in line for _, line in CASES), option


#: What a page calls a key, where it is not the key's own name.
NAMES = {"Esc": "escape", "↑": "up", "↓": "down", "←": "left", "→": "right"}
NAMES |= {"?": "question_mark", "+": "plus", "-": "minus"}
KEYS = [
    ("operator", CheckScreen, "Enter s b n Esc"),
    ("operator", MoundfeedApp, "k p d v u a s n z t l c q ?"),
    ("operator", SessionTable, "↑ ↓ Home"),
    ("operator", LeaveDialog, "e k"),
    ("operator", Choice, "↑ ↓"),
    ("coach", SessionTable, "↑ ↓ Home"),
    ("coach", MoundfeedApp, "c t l ? s"),
    ("coach", ReviewApp, "1 2 3 4 5 g p space b w"),
    ("coach", ReplayApp, "space → ← j - +"),
    ("biomechanist", ReviewApp, "2 3 4 5 b space c ← → g w u"),
]


@pytest.mark.parametrize(("page", "screen", "keys"), KEYS)
def test_the_screens_have_the_keys(page: str, screen: type[DOMNode], keys: str) -> None:
    bound = {
        key.strip()
        for binding in screen.BINDINGS
        for key in (binding.key if isinstance(binding, Binding) else binding[0]).split(",")
    }
    for key in keys.split():
        assert NAMES.get(key, key.lower()) in bound, key
        assert f"`{key}`" in PAGES[page], key


def test_every_key_on_the_pages_is_looked_at() -> None:
    """So that a key that is added to a page is added above too."""
    for page in ("operator", "coach", "biomechanist"):
        spans = set(SPAN.findall(PAGES[page]))
        named = {s for s in spans if re.fullmatch(r"[a-z0-9?↑↓←→+-]|Esc|Enter|Home|space", s)}
        claimed = {key for name, _, keys in KEYS if name == page for key in keys.split()}
        assert named <= claimed, page


def test_words_of_the_screens_are_as_the_pages_say() -> None:
    code = "".join(p.read_text("utf-8") for p in sorted((ROOT / "tui").rglob("*.py")))
    found = 0
    for page in ("operator", "coach"):
        for span in SPAN.findall(PAGES[page]):
            for words in re.findall(r"\b[A-Z]{4,}(?:[ -][A-Z]{2,})*\b", span):
                found += 1
                assert words in code, words
    assert found > 8
    for words in ("frames lost in", "moved since", "taken out", "put back", "not run"):
        assert words in code


def test_what_stands_under_a_number_is_as_the_coachs_page_says() -> None:
    def under(value: float, standing: Standing, centre: float | None = 172.0) -> str:
        usual = None if centre is None else Baseline(9, centre, 4.0, own=True)
        apart = None if centre is None else value - centre
        compared = Comparison("landing_peak_bw", value, usual, apart, None, standing)
        return difference_words(compared, "% BW", Units())

    spans = set(SPAN.findall(PAGES["coach"]))
    assert under(173.0, Standing.USUAL) in spans
    assert under(184.0, Standing.APART) in spans
    assert under(184.0, Standing.TOO_FEW, None) in spans


def test_flags_and_settings_that_are_named_exist() -> None:
    from analysis.words import FLAGS

    assert "weight_mismatch" in FLAGS
    for name in re.findall(r"`(\w+) = ", PAGES["biomechanist"]):
        assert name in set(Settings.__struct_fields__), name


def test_links_lead_somewhere() -> None:
    for name, page in PAGES.items():
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page):
            assert (DOCS / target).exists(), f"{name}: {target}"
