"""What may be asked of a table of pitches: one list for the command line and the screen.

Each question names its fields; the command makes an option of every field, the
screen something to choose or to type. What a question computes is in
``analysis/study``.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto


class Kind(Enum):
    """What a field holds."""

    NUMBERS = auto()  # a column of numbers
    LABELS = auto()  # a column of names
    COLUMN = auto()  # either
    NUMBER = auto()
    WHOLE = auto()
    COUNTS = auto()  # whole numbers, as in 8,20,50
    CHOICE = auto()
    YES = auto()
    FILE = auto()


@dataclass(frozen=True)
class Field:
    """One thing that a question needs. ``likely`` are columns that the screen proposes."""

    name: str
    kind: Kind
    help: str
    mark: str = "COL"
    required: bool = False
    many: bool = False
    default: object = None
    choices: tuple[str, ...] = ()
    likely: tuple[str, ...] = ()

    @property
    def option(self) -> str:
        """The option on the command line."""
        return f"--{self.name}"

    @property
    def label(self) -> str:
        """The name on the screen."""
        words = self.name.replace("-", " ")
        return words.replace("sd ", "SD ") if words.startswith("sd ") else words.capitalize()


class Takes(Enum):
    """What a question works on."""

    TABLES = auto()
    TWO_TRACES = auto()
    NOTHING = auto()


@dataclass(frozen=True)
class Question:
    """One question: its word on the command line, itself, what it works on, its fields."""

    name: str
    asks: str
    takes: Takes
    fields: tuple[Field, ...]


_PITCHER = Field("pitcher", Kind.LABELS, "who threw", required=True, likely=("pitcher",))
_FORCES = ("drive_peak_bw", "landing_peak_bw")
_OUTCOMES = ("speed_mps",)

QUESTIONS: tuple[Question, ...] = (
    Question(
        "effect",
        "does a metric go with an outcome, within and between pitchers?",
        Takes.TABLES,
        (
            Field(
                "outcome",
                Kind.NUMBERS,
                "what it may go with, such as speed_mps",
                required=True,
                likely=_OUTCOMES,
            ),
            Field(
                "predictor",
                Kind.NUMBERS,
                "the metric, one or several",
                required=True,
                many=True,
                likely=_FORCES[:1],
            ),
            _PITCHER,
            Field("covariate", Kind.COLUMN, "held still: body mass, height, level", many=True),
            Field(
                "per", Kind.NUMBER, "the step that a slope is told for", mark="STEP", default=10.0
            ),
            Field("separately", Kind.YES, "each predictor in a model of its own"),
        ),
    ),
    Question(
        "correlate",
        "do two measures move together within pitchers?",
        Takes.TABLES,
        (
            Field("x", Kind.NUMBERS, "one measure", required=True, likely=_FORCES),
            Field("y", Kind.NUMBERS, "the other", required=True, likely=_OUTCOMES),
            _PITCHER,
        ),
    ),
    Question(
        "reliability",
        "how far can one number be believed?",
        Takes.TABLES,
        (
            Field(
                "measure",
                Kind.NUMBERS,
                "the number, such as drive_peak_bw",
                required=True,
                likely=_FORCES,
            ),
            _PITCHER,
            Field("day", Kind.LABELS, "which day or session, for between days"),
            Field(
                "repetition",
                Kind.LABELS,
                "values that recur once for every pitcher (six forms)",
            ),
        ),
    ),
    Question(
        "agreement",
        "does one device agree with a reference?",
        Takes.TABLES,
        (
            Field("ours", Kind.NUMBERS, "this device", required=True),
            Field("reference", Kind.NUMBERS, "the reference", required=True),
            Field("pitcher", Kind.LABELS, "who threw, where pitches repeat", likely=("pitcher",)),
            Field(
                "truth",
                Kind.CHOICE,
                "does the true value change between a pitcher's rows? (default varying)",
                choices=("varying", "constant"),
                default="varying",
            ),
        ),
    ),
    Question(
        "traces",
        "do two recordings of one movement agree in time?",
        Takes.TWO_TRACES,
        (
            Field("column", Kind.NUMBERS, "trace to compare", required=True),
            Field("reference-column", Kind.NUMBERS, "its name in REFERENCE if it has another"),
            Field("time", Kind.NUMBERS, "seconds (default t_s)", default="t_s", likely=("t_s",)),
            Field("pulse", Kind.NUMBERS, "align by this pulse channel of both, not by correlation"),
        ),
    ),
    Question(
        "waveforms",
        "where along the movement do two groups of curves differ?",
        Takes.TABLES,
        (
            Field("value", Kind.NUMBERS, "for example a force", required=True),
            Field("time", Kind.NUMBERS, "time within the curve", required=True, likely=("t_s",)),
            Field("curve", Kind.LABELS, "which movement", required=True),
            _PITCHER,
            Field("group", Kind.LABELS, "exactly two values", required=True),
        ),
    ),
    Question(
        "plan",
        "how many pitchers and pitches for a wanted precision, by simulation",
        Takes.NOTHING,
        (
            Field("half-width", Kind.NUMBER, "wanted, per step", mark="W", required=True),
            Field(
                "like",
                Kind.FILE,
                "take slope and variances from an answer",
                mark="EFFECT.json",
            ),
            Field("slope", Kind.NUMBER, "assumed slope per step", mark="B"),
            Field("sd-slope", Kind.NUMBER, "of pitchers' own slopes", mark="SD"),
            Field("sd-residual", Kind.NUMBER, "outcome, pitch to pitch", mark="SD"),
            Field("sd-predictor", Kind.NUMBER, "within a pitcher", mark="SD"),
            Field("per", Kind.NUMBER, "step (default 10)", mark="STEP"),
            Field("pitchers", Kind.COUNTS, "to try", mark="N,N", default=[8, 12, 20, 35, 50]),
            Field("pitches", Kind.COUNTS, "each, to try", mark="N,N", default=[5, 10, 20]),
            Field("studies", Kind.WHOLE, "simulated a size", mark="N", default=2000),
            Field("seed", Kind.WHOLE, "of the simulation", mark="S", default=1),
        ),
    ),
)
