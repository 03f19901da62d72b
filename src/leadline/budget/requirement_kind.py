"""What the core knows of a kind of requirement."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from leadline.budget.state import State
from leadline.units import humanise
from leadline.vehicle import (
    Mission,
    Number,
)

Array = npt.NDArray[np.float64]

__all__ = ["START", "Margin", "RequirementKind", "after", "all_of", "bound_text", "when"]

Margin = Callable[[Any, State, Array], None]


START: Final = -1
"""The position of a check made before the first leg."""


@dataclass(frozen=True, slots=True)
class RequirementKind:
    """What the core knows of a kind of requirement.

    Parameters
    ----------
    kind
        The kind's name.
    unit
        SI unit of the margin.
    margin
        ``margin(requirement, state, out)`` writes the margin as the block now stands.
    legs
        ``legs(requirement, mission)`` gives the legs after which it is checked.
    sentence
        ``sentence(requirement)`` says what must hold, with the bound where it is fixed.
    """

    kind: str
    unit: str
    margin: Margin
    legs: Callable[[Any, Mission], tuple[int, ...]]
    sentence: Callable[[Any], str]


def bound_text(bound: Number, unit: str) -> str:
    """Say a bound for people; a dispersed bound is said to be so."""
    return humanise(bound, unit) if isinstance(bound, float | int) else "a dispersed bound"


def all_of(names: tuple[str, ...], verb: str) -> str:
    """Give a sentence's subject and verb: one ends in s, several are joined."""
    return f"{names[0]} {verb}s" if len(names) == 1 else f"{' and '.join(names)} together {verb}"


def after(requirement: Any, mission: Mission) -> tuple[int, ...]:
    """Give the position of the leg a requirement names, or of the last leg."""
    names = [leg.name for leg in mission.legs]
    after = requirement.after
    return (len(names) - 1 if after is None else names.index(after),)


def when(requirement: Any) -> str:
    """Say when a requirement is looked at."""
    return "at the end" if requirement.after is None else f"after {requirement.after}"
