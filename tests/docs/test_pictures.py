"""The README's pictures are there, show the screens, and ask nobody for anything."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SHOWN = {"coach": "COUNTED", "operator": "centre", "review": "landing"}


def test_the_readme_shows_every_picture() -> None:
    named = re.findall(r"\(docs/pictures/(\w+)\.svg\)", (ROOT / "README.md").read_text())
    assert sorted(named) == sorted(SHOWN)
    assert sorted(p.stem for p in (ROOT / "docs/pictures").iterdir()) == sorted(SHOWN)


@pytest.mark.parametrize(("name", "word"), SHOWN.items())
def test_a_picture_stands_alone(name: str, word: str) -> None:
    picture = (ROOT / f"docs/pictures/{name}.svg").read_text()
    assert word in picture
    assert "@font-face" not in picture
    assert not re.search(r"(href|src|url)\s*[=(]\s*['\"]?https?:", picture)
