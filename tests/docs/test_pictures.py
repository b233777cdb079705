"""The README's pictures are there, show the screens, and ask nobody for anything."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from PIL import Image

ROOT = Path(__file__).parents[2]
#: As browser.md says them.
SIZES = {"tablet": "1024 x 768", "phone-lying": "844 x 390", "phone": "390 x 844"}
SHOWN = {"coach": "COUNTED", "operator": "centre", "review": "landing"}


def test_the_readme_shows_every_picture() -> None:
    named = re.findall(r"\(docs/pictures/(\w+)\.svg\)", (ROOT / "README.md").read_text())
    assert sorted(named) == sorted(SHOWN)
    assert sorted(p.stem for p in (ROOT / "docs/pictures").glob("*.svg")) == sorted(SHOWN)


def test_the_browsers_page_shows_every_picture_of_a_browser() -> None:
    text = (ROOT / "docs/browser.md").read_text()
    named = re.findall(r"\(pictures/browser-([\w-]+)\.png\)", text)
    made = [p for p in (ROOT / "docs/pictures").iterdir() if p.suffix != ".svg"]
    assert sorted(f"browser-{name}.png" for name in named) == sorted(p.name for p in made)
    for path in made:
        size = tuple(map(int, re.findall(r"\d+", SIZES[path.stem.removeprefix("browser-")])))
        with Image.open(path) as picture:
            assert picture.size == size, path.name
        assert path.stat().st_size < 150_000, path.name


@pytest.mark.parametrize(("name", "word"), SHOWN.items())
def test_a_picture_stands_alone(name: str, word: str) -> None:
    picture = (ROOT / f"docs/pictures/{name}.svg").read_text()
    assert word in picture
    assert "@font-face" not in picture
    assert not re.search(r"(href|src|url)\s*[=(]\s*['\"]?https?:", picture)
