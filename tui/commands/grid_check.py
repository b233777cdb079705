"""The yearly check: ``moundfeed check --grid PLACES.csv`` on a recording of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec

from analysis.mound_check.calibration import Offer, offers
from analysis.mound_check.errors import Linearity, Row, linearity, rows
from analysis.mound_check.placements import GridError, measure, read_placements
from stream.layout import Layout
from stream.wire import ForceMessage
from tui.commands.errors import BadInput


def run_grid(
    layout: Layout,
    places: Path,
    messages: Callable[[], Iterator[ForceMessage]],
    gravity: float,
    *,
    json_path: Path | None,
    plot_path: Path | None,
) -> int:
    """Print the table of errors, linearity and the matrices offered; return the exit code."""
    try:
        measured = measure(layout, read_placements(places, layout), messages, gravity)
    except GridError as error:
        raise BadInput(str(error)) from None
    table = rows(layout, measured, gravity)
    lines, fitted = linearity(table), offers(layout, measured, gravity)
    _print(table, lines, fitted)
    ok = all(row.ok for row in table)
    if json_path is not None:
        content = {
            "v": 1,
            "ok": ok,
            "layout": layout.name,
            "gravity_mps2": gravity,
            "placements": table,
            "linearity": lines,
            "offered": fitted,
        }
        json_path.write_bytes(msgspec.json.format(msgspec.json.encode(content), indent=1) + b"\n")
    if plot_path is not None:
        from analysis.mound_check.drawing import draw

        try:
            draw(layout, table, plot_path)
        except ImportError:
            raise BadInput("--plot needs matplotlib: pip install '.[study]'") from None
        except ValueError as error:
            raise BadInput(f"{plot_path}: {error}") from None
    return 0 if ok else 1


def _print(table: list[Row], lines: list[Linearity], fitted: list[Offer]) -> None:
    print("mass kg      x m     y m  platform   applied N    read N   error      dx mm   dy mm")
    for r in table:
        dx, dy = (f"{v:+z7.1f}" if v is not None else "      -" for v in (r.dx_mm, r.dy_mm))
        print(
            f"{r.mass_kg:7.2f} {r.x_m:8.3f} {r.y_m:7.3f}  {r.platform:9} {r.applied_n:10.1f} "
            f"{r.read_n:z9.1f} {r.error_share:+z7.2%}    {dx} {dy}  {'' if r.ok else 'OUT'}"
        )
    for n in lines:
        print(
            f"{n.platform}: gain {n.slope:.4f} +- {n.slope_se:.4f}, offset {n.intercept_n:+z.1f} "
            f"+- {n.intercept_se:.1f} N; at most {n.worst_n:.1f} N ({n.worst_share:.2%}) off the "
            "line."
        )
    for o in fitted:
        print(f"{o.platform}: a calibration fitted to {o.placements} placements (not applied):")
        for channel, row, error in zip(o.channels, o.rows, o.se, strict=True):
            entries = "  ".join(f"{v:+z.4f} +- {s:.4f}" for v, s in zip(row, error, strict=True))
            print(f"  channel {channel}: {entries}")
        print("  To use it, copy `calibration` of the JSON into the layout and check again.")
    if not fitted:
        print("No calibration is offered: it needs six or more spots off one line a platform.")
