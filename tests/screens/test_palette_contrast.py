"""Contrast of both looks, computed as WCAG 2.2 defines it."""

from __future__ import annotations

import pytest
from textual.color import Color

from tui import palette
from tui.palette import DARK, LIGHT, Look


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 glossary."""

    def linear(channel: int) -> float:
        c = channel / 255
        return c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4

    rgb = Color.parse(colour).rgb
    r, g, b = (linear(c) for c in rgb)
    return float(0.2126 * r + 0.7152 * g + 0.0722 * b)


def contrast(a: str, b: str) -> float:
    """Contrast ratio, WCAG 2.2 glossary."""
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_against_its_published_ends() -> None:
    # WCAG 2.2: black on white is 21:1; #767676 on white is the well-known 4.54:1
    # (WCAG technique G18's worked grey).
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("look", [DARK, LIGHT], ids=lambda look: look.name)
def test_text_has_four_and_a_half(look: Look) -> None:
    for ground in (look.ground, look.panel, look.chosen):
        for text in (look.ink, look.quiet):
            assert contrast(text, ground) >= 4.5, (text, ground)
    for text in (look.drive, look.lead_text, look.mark):
        assert contrast(text, look.ground) >= 4.5, text
    for ground in (look.good_ground, look.note_ground, look.alarm_ground):
        assert contrast(look.on_ground, ground) >= 4.5, ground


@pytest.mark.parametrize("look", [DARK, LIGHT], ids=lambda look: look.name)
def test_lines_have_three(look: Look) -> None:
    for graphic in (look.drive, look.lead, look.mark, look.line):
        assert contrast(graphic, look.ground) >= 3.0, graphic


def test_colours_are_okabe_and_itos() -> None:
    # Okabe and Ito 2008, RGB 0-255 as published.
    published = {
        "BLACK": (0, 0, 0),
        "ORANGE": (230, 159, 0),
        "SKY_BLUE": (86, 180, 233),
        "BLUISH_GREEN": (0, 158, 115),
        "YELLOW": (240, 228, 66),
        "BLUE": (0, 114, 178),
        "VERMILLION": (213, 94, 0),
        "REDDISH_PURPLE": (204, 121, 167),
    }
    for name, rgb in published.items():
        assert Color.parse(getattr(palette, name)).rgb == rgb


@pytest.mark.parametrize("look", [DARK, LIGHT], ids=lambda look: look.name)
def test_the_landing_legs_words_have_the_colour_of_its_curve(look: Look) -> None:
    curve, words = Color.parse(look.lead).hsl, Color.parse(look.lead_text).hsl
    assert words.h == pytest.approx(curve.h, abs=0.02)
    assert words.s == pytest.approx(curve.s, abs=0.1)
