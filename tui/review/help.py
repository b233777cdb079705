"""What the review's help says beside its keys."""

from __future__ import annotations

from analysis.baseline import APART, COMPARE_FROM, EDGE
from analysis.mean_curve import BAND_FROM
from analysis.review.usual import SPREAD_FROM
from tui.widgets.deck_plan import RUBBER_SIGN

PARTS: tuple[tuple[str, str], ...] = (
    (
        "THE TABLE",
        "A row a pitch. ▶ the pitch that is looked at, + laid over the curves, * with a note, "
        "✖ void (struck out), ≈ an estimate, — not measured; the metrics say why. A click on a "
        "heading, or o, "
        "orders by it; pitches without that value stand last.\n"
        f'"Like others": = usual, ~ edge ({EDGE:g} to {APART:g} spreads from the pitcher\'s '
        f"earlier pitches of the session), ≠ unlike ({APART:g} or more), · few (fewer than "
        f"{COMPARE_FROM} earlier ones). It describes a movement; it is no judgement on health and "
        "no advice.",
    ),
    (
        "THE METRICS",
        "All of them, with the median of the same pitcher's pitches of this session that are not "
        "void, this one among them, and their spread (1.4826 times the median absolute deviation, "
        f"from {SPREAD_FROM} pitches on). The difference is that of the shown numbers. The "
        "definition, the source and, where there is no value, the "
        "reason stand below for the row under the cursor.",
    ),
    (
        "THE CURVES",
        "Thin line: push-off leg. Thick line: landing leg. Field of dots: mean ± one standard "
        f"deviation of the same pitcher's pitches that are not void, the one looked at among "
        f"them, from {BAND_FROM} pitches on, "
        "time counted from foot contact and not stretched. Broken lines with a number: pitches "
        "laid over. Upright broken lines: the events of this pitch, named below. The values under "
        "the curves are those at the time cursor.",
    ),
    (
        "THE DECK",
        "Centre of pressure seen from above, to scale, home plate to the right. Thin line and "
        "round signs: push-off foot, from first move to toe-off. Thick line and square signs: "
        "landing foot, from foot contact to brake end. ✚ both at the time cursor, beside a sign "
        "that stands at the same place. Faint dots with a number: pitches laid over. "
        f"{RUBBER_SIGN * 2} the rubber. A place is shown where the foot carries enough.",
    ),
    (
        "CHANGES",
        "Void, note, ball speed and pitcher are written to the session's log as one more line "
        "each; nothing that was measured is touched, and u takes the last one back. While a "
        "monitor runs for the session it can be changed on the live screen only.",
    ),
)
