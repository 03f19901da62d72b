"""A mass margin under the definitions in use, each with its denominator.

The same masses read 15, 13, 23 or 30 % by definition, so a percentage says nothing without
its own. Symbols: B best estimate, P = B (1 + growth) predicted, A allowable.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from leadline.constants import Source, Standing

__all__ = ["DEFINITIONS", "MarginDefinition", "MassBudget"]


@dataclass(frozen=True, slots=True)
class MassBudget:
    """The masses of a deterministic budget.

    Parameters
    ----------
    best_kg
        Best estimate of today, above zero, growth left out.
    growth
        Growth allowance, a share of the best estimate.
    allowable_kg
        The most it may weigh, above zero.
    """

    best_kg: float
    growth: float
    allowable_kg: float

    @property
    def growth_kg(self) -> float:
        """Growth allowance, B growth."""
        return self.best_kg * self.growth

    @property
    def predicted_kg(self) -> float:
        """Predicted mass, P = B + B growth."""
        return self.best_kg + self.growth_kg

    @property
    def margin_kg(self) -> float:
        """What is left below the allowable mass, A - P."""
        return self.allowable_kg - self.predicted_kg


@dataclass(frozen=True, slots=True)
class MarginDefinition:
    """One definition of a margin in percent: what is divided by what.

    Parameters
    ----------
    name
        What it is called here, by its denominator.
    formula
        In words.
    share
        The margin as a share of one.
    source
        Who defines it so.
    """

    name: str
    formula: str
    share: Callable[[MassBudget], float]
    source: Source


def _left_of_best(mass: MassBudget) -> float:
    return mass.margin_kg / mass.best_kg


def _left_of_predicted(mass: MassBudget) -> float:
    return mass.margin_kg / mass.predicted_kg


def _all_of_allowable(mass: MassBudget) -> float:
    return (mass.allowable_kg - mass.best_kg) / mass.allowable_kg


def _all_of_best(mass: MassBudget) -> float:
    return (mass.allowable_kg - mass.best_kg) / mass.best_kg


DEFINITIONS: Final = (
    MarginDefinition(
        "margin over the best estimate",
        "(allowable - predicted) / best estimate",
        _left_of_best,
        Source(
            "GSFC-STD-1000 revision H, rule 1.06, after ANSI/AIAA S-120A-2015",
            "mass margin (allowable - predicted) / basic, as a public guide quotes it",
            Standing.SECOND_HAND,
            2023,
        ),
    ),
    MarginDefinition(
        "margin over the predicted mass",
        "(allowable - predicted) / predicted",
        _left_of_predicted,
        Source(
            "Percent margin of maximum possible over maximum expected value, as in NASA announcements of opportunity",
            "(MPV - MEV) / MEV, from memory",
            Standing.PRACTICE,
        ),
    ),
    MarginDefinition(
        "reserve within the allowable mass",
        "(allowable - best estimate) / allowable; growth is part of it",
        _all_of_allowable,
        Source(
            "Dry-mass margin of planetary concept studies, as in JPL Design Principles D-17868",
            "(allocation - current best estimate) / allocation, from memory",
            Standing.PRACTICE,
        ),
    ),
    MarginDefinition(
        "reserve over the best estimate",
        "(allowable - best estimate) / best estimate; growth is part of it",
        _all_of_best,
        Source(
            "ESA margin requirements MAR-*",
            "margin (V2 - V1) / V1 of a value without and with margin, as a public script quotes it",
            Standing.SECOND_HAND,
        ),
    ),
)
"""Definitions with the growth allowance spent first, then those that hold it."""
