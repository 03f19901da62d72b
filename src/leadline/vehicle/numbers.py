"""The numbers of a mission: fixed, drawn for each case, or following from others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

__all__ = ["Column", "Formula", "Number"]


@dataclass(frozen=True, slots=True)
class Column:
    """A dispersed number: row `index` of a block of draws, named by its place in the study."""

    index: int
    name: str


@dataclass(frozen=True, slots=True)
class Formula:
    """A number that follows from others: `kind` names a function of the budget core's registry.

    Formulas come from the models of a study, never from its text.
    """

    kind: str
    arguments: tuple[Number, ...]


Number: TypeAlias = float | Column | Formula
