"""Two kinds of not knowing, for a study whose chance is in closed form for every value of what is not known."""

from __future__ import annotations

import math

import pytest
from scipy.special import ndtr, ndtri

from leadline.run.engine import Request, compute
from leadline.run.first_result import UnknownsResult
from leadline.study import Study, loads
from run.hopper import BOUND_SD_KG, DRY_SD_KG, HOPPER, MARGIN_KG, SLOPE, hopper


def marked() -> Study:
    return loads(HOPPER.replace("{mean: 10 t, sd: 0.2 t}", "{mean: 10 t, sd: 0.2 t, kind: knowledge}"))


@pytest.fixture(scope="module")
def found() -> UnknownsResult:
    result = compute(marked(), Request(2**14)).result
    assert result.unknowns is not None
    return result.unknowns


def of_quantile(p: float) -> float:
    """Return the chance's quantile: with the dry mass at its own (1 - p) quantile, only the bound varies by flight."""
    return float(ndtr((MARGIN_KG - SLOPE * DRY_SD_KG * float(ndtri(1 - p))) / BOUND_SD_KG))


def test_the_mean_is_the_chance_with_everything_drawn(found: UnknownsResult) -> None:
    exact = float(ndtr(MARGIN_KG / math.hypot(SLOPE * DRY_SD_KG, BOUND_SD_KG)))  # exact: the law of total probability
    half = (found.mean.high - found.mean.low) / 2
    assert found.mean.value == pytest.approx(exact, abs=2 * half)


@pytest.mark.parametrize("p", [0.05, 0.5, 0.95])
def test_quantiles_over_what_is_not_known_are_those_of_the_closed_form(found: UnknownsResult, p: float) -> None:
    (quantile,) = [each.chance for each in found.quantiles if each.p == p]
    room = (quantile.high - quantile.low) / 2
    assert quantile.low - room <= of_quantile(p) <= quantile.high + room  # exact, for a law monotone in one number


def test_the_probability_of_reaching_what_is_asked(found: UnknownsResult) -> None:
    # exact: the chance is at least 90 % where the dry mass leaves 1.2816 deviations of the bound
    most = (MARGIN_KG - float(ndtri(0.9)) * BOUND_SD_KG) / (SLOPE * DRY_SD_KG)
    assert (found.asked, found.inputs) == (0.9, ("vehicle.hopper.dry_mass",))
    assert found.reaches is not None
    assert found.reaches.low - 0.02 <= float(ndtr(most)) <= found.reaches.high + 0.02
    assert found.distinguishable


def test_estimates_rise_and_spread_about_the_mean(found: UnknownsResult) -> None:
    assert list(found.estimates) == sorted(found.estimates)
    assert len(found.estimates) == found.draws
    assert found.spread.low < found.spread.value < found.spread.high
    assert found.sentence[0].isupper()


def test_marking_changes_no_draw_of_the_run_and_nothing_is_said_without_marks() -> None:
    plain, known = (compute(study, Request(2**14)).result for study in (hopper(), marked()))
    assert plain.unknowns is None
    assert known.cases == plain.cases  # exact: the same draws
    assert known.requirements == plain.requirements
    again = compute(marked(), Request(2**15)).result
    assert again.unknowns == known.unknowns  # it does not depend on how many cases the run has
