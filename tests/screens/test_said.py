"""The core's sentences in the units that were chosen."""

from __future__ import annotations

import re

import pint
import pytest

from stream.checks.plan import Plan, Step, instruction
from stream.checks.registry import CHECKS
from stream.snapshot import CheckFound, Level, Sentence
from tests.checks.bench import SPOT
from tests.screens.fed_mound import FedMound
from tests.screens.invented import Operated, load_layout, snapshot
from tests.screens.test_check_screen import begin, lines, words
from tests.screens.test_pitch_screen import settle
from tui.app import MoundfeedApp
from tui.check_words import found_lines
from tui.said import in_units
from tui.units import System, Units

US, SI = Units(System.US), Units(System.SI)
#: What a person who chose US units must not be shown.
SI_QUANTITY = re.compile(r"\d (N|kg|m|mm|cm)\b|\dN\b")


@pytest.mark.parametrize(
    ("number", "unit", "shown"),
    [
        ("31.0", "N", "lbf"),
        ("2150", "N", "lbf"),
        ("0.35", "N/s", "lbf/s"),
        ("250", "N m", "ft lbf"),
        ("17.5", "kg", "lb"),
        ("1.81", "m", "ft"),
        ("2.4", "m/s", "ft/s"),
        ("181", "mm", "in"),
        ("7", "mm", "in"),
    ],
)
def test_as_an_independent_library_converts(number: str, unit: str, shown: str) -> None:
    # NIST SP 811 (2008), appendix B.8, as carried by pint.
    names = {"N": "newton", "ft lbf": "foot * lbf", "in": "inch", "ft": "foot"}
    names |= {"lbf/s": "lbf / s", "ft/s": "foot / s", "N m": "N * m", "lb": "lb", "N/s": "N / s"}
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    true = registry.Quantity(float(number), names.get(unit, unit)).to(names.get(shown, shown))
    said = in_units(f"It reads {number} {unit} there.", US)
    match = re.fullmatch(rf"It reads ([0-9.]+) {shown} there\.", said)
    assert match is not None, said
    assert float(match[1]) == pytest.approx(float(true.magnitude), rel=0.05)
    assert in_units(f"It reads {number} {unit} there.", SI) == f"It reads {number} {unit} there."


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("at x 1.812, y -0.305 m, 13 mm off", "at x 5.945, y -1.00 ft, 0.51 in off"),
        ("It moved by +3.1 N (0.40 % of it).", "It moved by +0.70 lbf (0.40 % of it)."),
        ("Body weight 804 N (181 lbf).", "Body weight 181 lbf."),
        ("A mass of 20 kg reads 20.4 kg (+2.0 %).", "A mass of 44.1 lb reads 45 lb (+2.0 %)."),
        ("0 N on it", "0 lbf on it"),
    ],
)  # fmt: skip
def test_whole_sentences(said: str, shown: str) -> None:
    assert in_units(said, US) == shown


@pytest.mark.parametrize(
    "said",
    [
        "The device samples at 200.0 Hz; half within 1.2 ms; drift 20 ppm.",
        "No feed from tcp://192.0.2.7:5555 for 3 s; 5 minutes, 2 mounds, 4 Nm, gravity 9.8 m/s2",
        "moundfeed check --mass-kg 20 --at 1.8,0.3",
    ],
)
def test_what_is_no_quantity_stays(said: str) -> None:
    assert in_units(said, US) == said
    assert in_units(said, Units(System.US, ",")) == said


def test_decimal_comma() -> None:
    assert in_units("It is 1.50 m long, at 192.0.2.7.", Units(System.SI, ",")) == (
        "It is 1,50 m long, at 192.0.2.7."
    )
    assert in_units("It is 1.50 m long.", Units(System.US, ",")) == "It is 4,92 ft long."


def test_no_sentence_of_a_check_keeps_a_unit_that_was_not_chosen() -> None:
    numbers = {"value": "31.0", "unit": "N", "mass": "21.3", "known": "20", "off": "181"}
    numbers |= {"x": "1.981", "y": "0.301", "where": "181 mm towards home and 2 mm to the left"}
    for check in CHECKS:
        for text in check.sentences.values():
            said = re.sub(r"\{(\w+)\}", lambda m: numbers.get(m[1], "4"), text)
            assert not SI_QUANTITY.search(in_units(said, US)), said
    for step in Step:
        said = instruction(step, Plan(mass_kg=20.0, spot=(1.8, 0.3)))
        assert not SI_QUANTITY.search(in_units(said, US)), said


def test_results_say_inches() -> None:
    found = [
        CheckFound("position", "pass", 3.1, "mm", ""),
        CheckFound("noise", "fail", 31.0, "N", "Rear Fx: noise of 31.0 N (SD)."),
    ]
    text = " ".join(run[0] for line in found_lines(found, US, 100) for run in line)
    assert "FAIL noise: Rear Fx: noise of 6.97 lbf (SD)." in text
    assert "place off by 0.12 in" in text


async def test_a_check_that_fails_is_told_in_us_units() -> None:
    mound = FedMound()
    mound.bear(2.0)
    app = MoundfeedApp(mound, mound.layout, units=US)
    async with app.run_test(size=(120, 40)) as pilot:
        await begin(pilot, mass="20 kg", at=("1.8 m", "0.3 m"))
        mound.bear(8.0, 80.0, (0.0, 0.0))
        await settle(pilot)
        assert re.search(r"The deck is not empty: 17\d lbf stand on it", lines(app, "do"))
        mound.bear(1.0)
        mound.bear(6.0)
        mound.bear(7.0, 24.0, (SPOT[0] - 0.2, SPOT[1]))
        await settle(pilot)
        for name in ("do", "found"):
            assert not SI_QUANTITY.search(lines(app, name)), lines(app, name)


async def test_what_the_operator_reads_follows_the_key() -> None:
    link = Operated()
    moved = "The zero moved by +12.0 N since it was taken (1.40 % of body weight)."
    link.show(snapshot(sentences=(Sentence(Level.WARNING, "zero", moved),)))
    app = MoundfeedApp(link, load_layout("two-plates"), units=US)
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        assert "moved by +2.70 lbf since" in words(app)
        await pilot.press("d", "t")
        await settle(pilot)
        assert "moved by +12.0 N since" in words(app)
