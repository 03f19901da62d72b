"""Shares in words never claim more than the number."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.risk import words
from leadline.risk.words import Rounding


def read(text: str) -> float:
    return float(text.removesuffix(" %")) / 100


@given(st.floats(0, 1))
def test_rounding_keeps_its_side(value: float) -> None:
    down, up = read(words.share(value, Rounding.DOWN)), read(words.share(value, Rounding.UP))
    # exact: reading the text back rounds once more, by at most 2**-53
    assert down <= value + 2**-53
    assert up >= value - 2**-53


@given(st.floats(1e-8, 1 - 1e-8))
def test_three_figures_of_the_distance_to_certainty_are_kept(value: float) -> None:
    distance = min(value, 1 - value)
    assert abs(read(words.share(value)) - value) <= 0.00501 * distance + 1e-15


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0 %"),
        (1.0, "100 %"),
        (0.5, "50.0 %"),
        (0.97351, "97.35 %"),
        (0.99996512, "99.99651 %"),
        (2.5e-7, "0.0000250 %"),
    ],
)
def test_shares_in_words(value: float, text: str) -> None:
    # pinned: the wording is ours
    assert words.share(value) == text


def test_levels_and_counts_in_words() -> None:
    # pinned: the wording is ours
    assert [words.level(v) for v in (0.95, 0.9973, 0.5)] == ["95 %", "99.73 %", "50 %"]
    assert [words.count(n) for n in (7, 1000, 1_234_567)] == ["7", "1 000", "1 234 567"]
