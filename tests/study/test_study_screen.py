"""The study bench on its screen, driven as a user does. All data are invented."""

from __future__ import annotations

import shlex
from pathlib import Path

import msgspec
import numpy as np
import pandas as pd
import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Select, Static

from tui.commands.main import _parser
from tui.study.app import StudyApp
from tui.study.form import AnswerError, arguments, command
from tui.study.questions import QUESTIONS, Kind, Question
from tui.study.ticks import TickList
from tui.widgets.cloud import ShapePlot


@pytest.fixture(scope="module")
def pitches(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Invented: stronger pitchers throw faster; pushing harder, nobody does."""
    random = np.random.default_rng(5)
    rows = []
    for pitcher in range(10):
        own = random.normal(165.0, 12.0)
        for _ in range(12):
            push = own + random.normal(0.0, 7.0)
            speed = 36.0 + 0.06 * (own - 165.0) + random.normal(0.0, 0.3)
            rows.append((f"P{pitcher:02d}", push, speed, speed + random.normal(0.2, 0.1)))
    path = tmp_path_factory.mktemp("study") / "pitches.csv"
    columns = ["pitcher", "drive_peak_bw", "speed_mps", "other_speed_mps"]
    pd.DataFrame(rows, columns=columns).to_csv(path, index=False)
    return path


def shown(app: StudyApp) -> str:
    return "\n".join(str(static.content) for static in app.query("#answer Static").results(Static))


async def answered(pilot: Pilot[None], app: StudyApp) -> None:
    await app.workers.wait_for_complete()
    await pilot.pause()


async def chosen(pilot: Pilot[None], app: StudyApp, question: str) -> None:
    app.query_one("#question", Select).value = question
    await pilot.pause()
    await pilot.pause()


async def test_an_effect_is_asked_and_answered_within_and_between(pitches: Path) -> None:
    app = StudyApp([pitches])
    async with app.run_test(size=(120, 40)) as pilot:
        await answered(pilot, app)
        assert "120 rows" in shown(app)
        await pilot.press("ctrl+r")
        await answered(pilot, app)
        said = shown(app)
        assert "Within a pitcher: on pitches where push-off peak is 10 % of body weight" in said
        assert "so these data do not show" in said
        assert "not medical advice" in said
        assert len(app.query(ShapePlot)) == 3
        interval, within, between = app.query(ShapePlot).results(ShapePlot)
        rows = [interval.render_line(y).text for y in range(interval.size.height)]
        assert rows[1].startswith("within a pitcher")
        assert "■" in rows[1]
        assert "○" not in "".join(within.render_line(y).text for y in range(within.size.height))
        drawn = "".join(between.render_line(y).text for y in range(between.size.height))
        assert 3 <= drawn.count("○") <= 10
        assert "pooled" in drawn


async def test_what_is_missing_is_named_and_nothing_is_computed(pitches: Path) -> None:
    app = StudyApp([pitches])
    async with app.run_test(size=(80, 24)) as pilot:
        await answered(pilot, app)
        await chosen(pilot, app, "plan")
        await pilot.press("ctrl+r")
        await pilot.pause()
        told = [n.message for n in app._notifications]
        assert told == ["Half width is still to be given (wanted, per step)."]


async def test_a_question_that_cannot_be_answered_says_why(tmp_path: Path) -> None:
    table = tmp_path / "one.csv"
    table.write_text("pitcher,drive_peak_bw,speed_mps\nP1,150,36\nP1,152,36.2\nP1,155,36.1\n")
    app = StudyApp([table])
    async with app.run_test(size=(120, 40)) as pilot:
        await answered(pilot, app)
        await pilot.press("ctrl+r")
        await answered(pilot, app)
        assert "pitcher" in shown(app)
        assert not app.query(ShapePlot)


async def test_ticks_choose_several_columns_and_the_command_is_told(pitches: Path) -> None:
    app = StudyApp([pitches])
    async with app.run_test(size=(120, 60)) as pilot:
        await answered(pilot, app)
        ticks = app.query_one("#predictor", TickList)
        ticks.focus()
        await pilot.press("down", "down", "space")
        assert len(ticks.taken) == 2
        await pilot.press("ctrl+r")
        await answered(pilot, app)
        assert f"--predictor {ticks.taken[0]} --predictor {ticks.taken[1]}" in shown(app)


async def test_the_answer_is_written_and_never_over_a_file(pitches: Path, tmp_path: Path) -> None:
    app = StudyApp([pitches])
    async with app.run_test(size=(120, 40)) as pilot:
        await answered(pilot, app)
        await chosen(pilot, app, "reliability")
        await pilot.press("ctrl+r")
        await answered(pilot, app)
        await pilot.press("ctrl+s")
        await pilot.pause()
        app.screen.query_one(Input).value = str(tmp_path / "kept")
        await pilot.press("enter")
        await pilot.pause()
        assert "<svg" in (tmp_path / "kept.html").read_text()
        assert 0.0 < msgspec.json.decode((tmp_path / "kept.json").read_bytes())["icc"] < 1.0
        await pilot.press("ctrl+s")
        await pilot.pause()
        app.screen.query_one(Input).value = str(tmp_path / "kept")
        await pilot.press("enter")
        await pilot.pause()
        assert "is there already" in str(app.screen.query_one("#wrong", Static).content)


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.name)
def test_the_command_that_is_told_asks_the_same(question: Question) -> None:
    given: dict[str, object] = {}
    for field in question.fields:
        match field.kind:
            case Kind.YES:
                given[field.name] = ["it"]
            case Kind.NUMBER | Kind.WHOLE:
                given[field.name] = "3"
            case Kind.COUNTS:
                given[field.name] = "4,9"
            case _ if field.choices:
                given[field.name] = field.choices[-1]
            case _:
                given[field.name] = ["a b", "c"] if field.many else "it's"
    made = arguments(question, [Path("x y.csv"), Path("b.csv")], given, estimates=False)
    words = shlex.split(command(question, made))[1:]
    parsed = vars(_parser("study").parse_args(words))
    for name in ("run", "json", "html", "version"):
        parsed.pop(name)
    expected = {n: v for n, v in vars(made).items() if n in parsed or n != "without_estimates"}
    assert parsed == expected


def test_two_traces_need_two_files() -> None:
    traces = next(q for q in QUESTIONS if q.name == "traces")
    with pytest.raises(AnswerError, match="two files"):
        arguments(traces, [Path("one.csv")], {"column": "fz"}, estimates=True)
