"""Makes docs/states.md: ``python -m docs.make_states``.

Collects from the code itself every sentence that a state of the monitor may
put before the operator, and writes it with the test that produces the state
(``docs/states.toml``). A sentence without a test is an error.
"""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "states.md"
TESTS = ROOT / "docs" / "states.toml"
#: Where sentences to the operator are made, by part of the program.
ROOMS = {
    "The feed": (
        "stream/watchman.py",
        "stream/continuity.py",
        "stream/left_streams.py",
        "stream/picture.py",
        "stream/pipeline.py",
        "stream/zero_account.py",
        "stream/checks/vigil.py",
        "stream/checks/tare.py",
        "stream/sources/zeromq.py",
        "stream/sources/mqtt.py",
        "stream/access/broker.py",
    ),
    "Recording and files": (
        "stream/recording/writer.py",
        "stream/recording/durable.py",
        "stream/recording/reader.py",
        "stream/sinks/jsonl.py",
        "stream/monitor/backroom.py",
    ),
    "The monitor": (
        "stream/monitor/words.py",
        "stream/monitor/service.py",
        "stream/monitor/process.py",
        "stream/monitor/presence.py",
        "stream/sinks/mqtt.py",
        "stream/sinks/zeromq.py",
    ),
    "The screen and its actions": (
        "stream/monitor/viewer.py",
        "stream/monitor/link.py",
        "stream/monitor/view.py",
        "stream/book.py",
    ),
}
_LEAST_WORDS = 4
_HEAD = """# States: what the operator may be told, and what then is to be done

Every sentence below says what happened and what to do; {...} stands for a name or a number. The
page is made from the code (`python -m docs.make_states`), so it is complete: a sentence that no
test produces fails the tests.
"""


def sentences() -> dict[str, dict[str, None]]:
    """Return the sentences of each part of the program, in the order of the code."""
    return {
        part: {text: None for file in files for text in _of_file(ROOT / file)}
        for part, files in ROOMS.items()
    }


def _of_file(path: Path) -> Iterator[str]:
    if not path.exists():
        return
    tree = ast.parse(path.read_text())
    quiet = {id(node) for node in _not_said(tree)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant | ast.JoinedStr) and id(node) not in quiet:
            text = _text(node)
            begins = text[:1].isupper() or text.startswith("{")
            if len(text.split()) >= _LEAST_WORDS and begins:
                yield text


def _not_said(tree: ast.AST) -> Iterator[ast.AST]:
    """Docstrings, and the parts of longer strings."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            yield node.value
        if isinstance(node, ast.JoinedStr):
            yield from (part for part in ast.walk(node) if part is not node)


def _text(node: ast.Constant | ast.JoinedStr) -> str:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    parts = []
    for value in node.values:
        parts.append(value.value if isinstance(value, ast.Constant) else "{...}")
    return " ".join("".join(map(str, parts)).split())


def tests() -> dict[str, str]:
    """Return the test of each sentence, by the sentence's beginning."""
    return {
        start: test
        for table in tomllib.loads(TESTS.read_text()).values()
        for start, test in table.items()
    }


def test_of(text: str, known: dict[str, str]) -> str | None:
    """Return the test that produces ``text``; the longest beginning that fits counts."""
    fitting = [start for start in known if text.startswith(start)]
    return known[max(fitting, key=len)] if fitting else None


def page() -> str:
    """Return the page; raise SystemExit naming sentences without a test."""
    known = tests()
    lines, lacking = [_HEAD], []
    for part, texts in sentences().items():
        lines.append(f"## {part}\n\n| what is said | test |\n|---|---|")
        for text in sorted(texts):
            test = test_of(text, known)
            if test is None:
                lacking.append(text)
            lines.append(f"| {text} | `{test}` |")
        lines.append("")
    if lacking:
        raise SystemExit("no test in docs/states.toml for:\n" + "\n".join(lacking))
    return "\n".join(lines)


if __name__ == "__main__":
    PAGE.write_text(page())
