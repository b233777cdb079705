"""The yearly check as a picture: force errors over force, place errors on the deck."""

from __future__ import annotations

from pathlib import Path

from analysis.mound_check.errors import PLACE_MM, WEIGHT_N, WEIGHT_SHARE, Row
from stream.layout import Layout

#: Place errors are drawn this many times larger than the deck.
_ENLARGED = 10.0


def draw(layout: Layout, table: list[Row], path: Path) -> None:
    """Write the picture to ``path`` (its ending says the kind); needs matplotlib."""
    from matplotlib.figure import Figure  # noqa: PLC0415 - slow to import, rarely needed

    figure = Figure(figsize=(9, 4.2), layout="constrained")
    left, right = figure.subplots(1, 2)
    top = max(r.applied_n for r in table)
    grid = [top * k / 50 for k in range(51)]
    limit = [max(WEIGHT_SHARE * f, WEIGHT_N) for f in grid]
    left.fill_between(grid, [-v for v in limit], limit, alpha=0.15, label="allowed")
    for name in dict.fromkeys(r.platform for r in table):
        mine = [r for r in table if r.platform == name]
        left.plot([r.applied_n for r in mine], [r.error_n for r in mine], "o", label=name)
    left.set(xlabel="applied force (N)", ylabel="reading minus applied (N)", title="Force")
    left.legend(fontsize=8)
    deck = layout.deck
    edge_x = [deck.back, deck.front, deck.front, deck.back, deck.back]
    edge_y = [-deck.half_width, -deck.half_width, deck.half_width, deck.half_width]
    right.plot(edge_x, [*edge_y, -deck.half_width], "-", color="0.6")
    right.plot([r.x_m for r in table], [r.y_m for r in table], "k+")
    known = [r for r in table if r.dx_mm is not None and r.dy_mm is not None]
    if known:
        right.quiver(
            [r.x_m for r in known],
            [r.y_m for r in known],
            [(r.dx_mm or 0.0) * 1e-3 * _ENLARGED for r in known],
            [(r.dy_mm or 0.0) * 1e-3 * _ENLARGED for r in known],
            angles="xy",
            scale_units="xy",
            scale=1.0,
            width=0.005,
        )
    right.set(xlabel="x towards home (m)", ylabel="y to the left (m)", aspect="equal")
    right.set_title(f"Place errors, {_ENLARGED:g} times enlarged (allowed {PLACE_MM:g} mm)")
    figure.savefig(path)
