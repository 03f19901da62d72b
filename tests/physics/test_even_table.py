"""Straight lines between even nodes, against NumPy's search."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.physics.even_table import EvenTable


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=9),
    st.floats(-1e3, 1e3),
    st.floats(1e-3, 1e3),
    st.lists(st.floats(-0.5, 1.5), min_size=1, max_size=9),
)
def test_it_is_numpys_interpolation(values: list[float], first: float, span: float, shares: list[float]) -> None:
    heights, x = np.array(values), first + span * np.array(shares)
    expected = np.interp(x, np.linspace(first, first + span, heights.size), heights)
    # cross-checked: numpy.interp; where a node lies is known to rounding, times how steep the line is there
    steepest = np.abs(np.diff(heights)).max() * (heights.size - 1) / span
    within = steepest * 1e-12 * (abs(first) + span) + 1e-9
    np.testing.assert_allclose(EvenTable(first, first + span, heights).at(x), expected, atol=within, rtol=1e-12)


def test_nodes_ends_and_what_is_no_number() -> None:
    table = EvenTable(0.0, 2.0, np.array([1.0, 3.0, 2.0]))
    x = np.array([-1.0, 0.0, 0.5, 1.0, 1.5, 2.0, 3.0])
    np.testing.assert_array_equal(table.at(x), [1.0, 1.0, 2.0, 3.0, 2.5, 2.0, 2.0])  # exact
    assert float(table.at(0.5)) == 2.0
    assert np.isnan(table.at(np.array([np.nan]))).all()
    assert table.at(np.array([np.inf, -np.inf])) == pytest.approx([2.0, 1.0])
