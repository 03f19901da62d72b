"""Draws: probability laws, dependence, designs and streams.

Knows no vehicle, no physics and no way of running; NumPy and SciPy only.
"""

from __future__ import annotations

from leadline.sampling.copula import COPULA_SOURCE, rank_correlation, score_correlation
from leadline.sampling.dependence import RankCorrelation
from leadline.sampling.designs import SOBOL_SOURCE, Design
from leadline.sampling.laws import (
    LAWS,
    Array,
    Clipped,
    Description,
    Discrete,
    Empirical,
    Law,
    Lognormal,
    Normal,
    Pert,
    Triangular,
    TruncatedNormal,
    Uniform,
    law_from_description,
    probability_outside,
)
from leadline.sampling.pert import PERT_SOURCE
from leadline.sampling.refusals import DependenceError, LawError
from leadline.sampling.sampler import Input, Sampler
from leadline.sampling.streams import stream

__all__ = [
    "COPULA_SOURCE",
    "LAWS",
    "PERT_SOURCE",
    "SOBOL_SOURCE",
    "Array",
    "Clipped",
    "DependenceError",
    "Description",
    "Design",
    "Discrete",
    "Empirical",
    "Input",
    "Law",
    "LawError",
    "Lognormal",
    "Normal",
    "Pert",
    "RankCorrelation",
    "Sampler",
    "Triangular",
    "TruncatedNormal",
    "Uniform",
    "law_from_description",
    "probability_outside",
    "rank_correlation",
    "score_correlation",
    "stream",
]
