"""No point of a plot lies on its axes."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.report.drawing import around


@pytest.mark.parametrize("values", [[150.0, 180.0], [150.0, 169.9], [32.0, 33.0], [40.0]])
def test_a_range_leaves_air_beyond_its_values(values: list[float]) -> None:
    made = around(np.array(values), least=1.0)
    places = made.at(np.array(values))
    # A mark is 3.5 points large, the shortest plot's axis 136: less than a thirtieth.
    assert places.min() > 0.08
    assert places.max() < 0.92
