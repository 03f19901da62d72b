"""Rare failures of a study, against the chance of a normal sum."""

from __future__ import annotations

import math

import pytest
from scipy.special import ndtr

from leadline.errors import RunError
from leadline.run.answers import RareFailure, RareResult
from leadline.run.engine import Control, Progress
from leadline.run.rare import RareRequest, rare
from run.hopper import BOUND_SD_KG, DRY_SD_KG, MARGIN_KG, SLOPE, hopper

ASKED_KG = 160.0
"""A lower reserve than the study's, so that missing it is rare."""


def exact() -> float:
    """Return the chance of missing it: the tail of a normal sum."""
    return float(ndtr(-(MARGIN_KG + 500.0 - ASKED_KG) / math.hypot(SLOPE * DRY_SD_KG, BOUND_SD_KG)))


@pytest.fixture(scope="module")
def found() -> RareResult:
    return rare(hopper(requirements__reserve__at_least=f"{{mean: {ASKED_KG} kg, sd: 50 kg}}"), RareRequest())


def failure(found: RareResult, name: str) -> RareFailure:
    (one,) = [each for each in found.failures if each.output == name]
    return one


def test_the_chance_of_a_rare_failure_is_that_of_the_closed_form(found: RareResult) -> None:
    assert exact() == pytest.approx(6.514e-8, rel=1e-3)  # exact, and rare indeed
    for name in ("reserve", "any requirement"):
        one = failure(found, name)
        assert one.quoted is not None
        for each in one.estimates:
            # Four stated coefficients of variation on the log scale: one seed in thousands.
            assert abs(math.log(each.chance.value / exact())) < 4 * each.coefficient_of_variation + 0.02
        assert {each.method for each in one.estimates} == {"subset simulation", "importance sampling"}
        assert one.state == "two estimates agree"
        assert one.quoted.coefficient_of_variation <= found.target_variation


def test_the_whole_stands_first_and_the_sentence_speaks_of_it(found: RareResult) -> None:
    assert found.failures[0].output == "any requirement"
    assert found.failures[0].sentence.startswith("any requirement: a case fails with a chance of")
    assert found.sentence.startswith("A hop with one burn: a case fails with a chance of")
    assert not found.partial
    assert RareResult.from_json(found.to_json()) == found


def test_common_failures_are_counted() -> None:
    common = rare(hopper(), RareRequest(seed=2))
    one = failure(common, "reserve")
    assert one.state == "counted by brute force"
    assert one.quoted is not None
    exactly = float(ndtr(-MARGIN_KG / math.hypot(SLOPE * DRY_SD_KG, BOUND_SD_KG)))
    assert one.quoted.chance.low < exactly < one.quoted.chance.high


def test_a_stopped_search_is_partial() -> None:
    told: list[Progress] = []
    stopped = rare(hopper(), RareRequest(), Control(progress=told.append, stopped=lambda: True))
    assert stopped.partial
    assert {each.state for each in stopped.failures} == {"stopped"}


def test_without_dispersions_nothing_is_rare() -> None:
    fixed = hopper(hopper__dry_mass="10 t", requirements__reserve__at_least="500 kg", legs__wait__lasts="1 d")
    with pytest.raises(RunError, match="nothing in the study is dispersed"):
        rare(fixed, RareRequest())
