"""Colours: the palette of Okabe and Ito, told apart with every common colour vision.

Source: M. Okabe and K. Ito, "Color Universal Design (CUD): how to make figures
and presentations that are friendly to colorblind people", 2008 (eight colours,
sRGB). Contrast to WCAG 2.2 level AA (1.4.3 text 4.5:1, 1.4.11 graphics 3:1) is
computed in the tests for both looks. Colour never carries a meaning alone:
each state also has a symbol and a word, each curve a line pattern and a name.
"""

from __future__ import annotations

from dataclasses import dataclass

from textual.app import App
from textual.theme import Theme

BLACK = "#000000"
ORANGE = "#E69F00"
SKY_BLUE = "#56B4E9"
BLUISH_GREEN = "#009E73"
YELLOW = "#F0E442"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
#: The same hue as VERMILLION, so dark that words in it can be read on white.
DARK_VERMILLION = "#B85100"
REDDISH_PURPLE = "#CC79A7"


@dataclass(frozen=True, slots=True)
class Look:
    """Colours by what they stand for. ``*_ground`` lie behind ``on_ground`` text."""

    name: str
    dark: bool
    ground: str
    panel: str
    ink: str
    quiet: str
    line: str
    drive: str
    lead: str
    lead_text: str
    mark: str
    chosen: str
    good_ground: str
    note_ground: str
    alarm_ground: str
    on_ground: str


DARK = Look(
    name="dark",
    dark=True,
    ground="#0B0E11",
    panel="#171C22",
    ink="#F4F4F4",
    quiet="#B4BCC6",
    line="#6E7A88",
    drive=SKY_BLUE,
    lead=ORANGE,
    lead_text=ORANGE,
    mark=YELLOW,
    chosen="#26313D",
    good_ground=BLUISH_GREEN,
    note_ground=YELLOW,
    alarm_ground=VERMILLION,
    on_ground=BLACK,
)
LIGHT = Look(
    name="light",
    dark=False,
    ground="#FFFFFF",
    panel="#EEF1F4",
    ink="#0B0E11",
    quiet="#4A535E",
    line="#7A8592",
    drive=BLUE,
    lead=VERMILLION,
    lead_text=DARK_VERMILLION,
    mark="#000000",
    chosen="#D5DEE8",
    good_ground=BLUISH_GREEN,
    note_ground=YELLOW,
    alarm_ground=VERMILLION,
    on_ground=BLACK,
)
LOOKS: dict[str, Look] = {look.name: look for look in (DARK, LIGHT)}


def theme(look: Look) -> Theme:
    """Return the Textual theme of one look; its variables are the names of :class:`Look`."""
    return Theme(
        name=f"moundfeed-{look.name}",
        dark=look.dark,
        primary=look.drive,
        secondary=look.lead,
        accent=look.drive,
        warning=look.note_ground,
        error=look.alarm_ground,
        success=look.good_ground,
        foreground=look.ink,
        background=look.ground,
        surface=look.ground,
        panel=look.panel,
        text_alpha=1.0,
        variables={
            "ink": look.ink,
            "quiet": look.quiet,
            "line": look.line,
            "drive": look.drive,
            "lead": look.lead,
            "lead-text": look.lead_text,
            "mark": look.mark,
            "chosen": look.chosen,
            "good-ground": look.good_ground,
            "note-ground": look.note_ground,
            "alarm-ground": look.alarm_ground,
            "on-ground": look.on_ground,
            "footer-background": look.panel,
            "footer-foreground": look.ink,
            "footer-description-foreground": look.ink,
            "footer-key-foreground": look.ink,
            "block-cursor-background": look.chosen,
            "block-cursor-foreground": look.ink,
            "scrollbar": look.line,
            "scrollbar-hover": look.ink,
            "scrollbar-active": look.ink,
            "scrollbar-background": look.panel,
            "scrollbar-background-hover": look.panel,
            "scrollbar-background-active": look.panel,
            "scrollbar-corner-color": look.panel,
            "border": look.line,
            "border-blurred": look.line,
        },
    )


def put_on(app: App[None], look: str) -> None:
    """Give ``app`` both looks and let it wear the one named."""
    for known in LOOKS.values():
        app.register_theme(theme(known))
    app.theme = theme(LOOKS[look]).name


def turn(app: App[None]) -> None:
    """Change ``app`` from dark to light or back."""
    app.theme = theme(LIGHT if app.current_theme.dark else DARK).name
