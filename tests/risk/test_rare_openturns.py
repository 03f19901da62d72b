"""Subset simulation against that of OpenTURNS, on one problem."""

from __future__ import annotations

import math

from conftest import need
from leadline.risk.rare import RareMethod, rare_failures
from risk.reliability_problems import GAYTON_HAT

ot = need("openturns")


def test_gayton_hat_by_subset_simulation() -> None:
    # cross-checked: OpenTURNS SubsetSampling, seed 1, with its own statement of its variation (from chain theory); four
    # combined deviations on the log scale
    formula = ot.SymbolicFunction(["a", "b"], ["0.5*(a-2)^2 - 1.5*(b-5)^3 - 3"])
    score = ot.RandomVector(ot.Normal(2))
    event = ot.ThresholdEvent(ot.CompositeRandomVector(formula, score), ot.Less(), 0.0)
    ot.RandomGenerator.SetSeed(1)
    sampling = ot.SubsetSampling(event)
    sampling.setMaximumOuterSampling(200)
    sampling.setBlockSize(100)
    sampling.run()
    theirs = sampling.getResult()
    (answer, _) = rare_failures(GAYTON_HAT.margins, 2, ["hat"], seed=0)
    (ours,) = [made for made in answer.estimates if made.method is RareMethod.SUBSET]
    combined = math.hypot(ours.coefficient_of_variation, theirs.getCoefficientOfVariation())
    assert abs(math.log(ours.probability / theirs.getProbabilityEstimate())) < 4.0 * combined
    assert theirs.getCoefficientOfVariation() < 0.15
