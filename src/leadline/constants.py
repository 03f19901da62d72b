"""Physical constants, each with the record of where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

__all__ = ["STANDARD_GRAVITY_M_S2", "Source", "Standing"]


class Standing(StrEnum):
    """How far a source can be leaned on."""

    PUBLISHED = "published"
    SECOND_HAND = "second-hand"
    PRACTICE = "trade practice, no source"
    COMPUTED = "computed"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a value or a formula comes from."""

    title: str
    where: str
    standing: Standing = Standing.PUBLISHED
    year: int | None = None

    def __str__(self) -> str:
        year = "" if self.year is None else f", {self.year}"
        return f"{self.title}{year}, {self.where} ({self.standing.value})"


STANDARD_GRAVITY_M_S2: Final = 9.80665
"""Standard acceleration of gravity; exact by definition."""

STANDARD_GRAVITY_SOURCE: Final = Source(
    "3rd General Conference on Weights and Measures, declaration on the kilogram and weight",
    "standard acceleration of gravity, exact",
    year=1901,
)
