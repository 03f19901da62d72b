"""Shares and counts in words, rounded so that a bound never says more than it holds."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from typing import Final

__all__ = ["MOST_PLACES", "Rounding", "count", "level", "places", "share"]

MOST_PLACES: Final = 6
"""More decimals of a hundredth than this say nothing to anybody."""


class Rounding(StrEnum):
    """Which way a share is rounded for print."""

    DOWN = ROUND_FLOOR
    UP = ROUND_CEILING
    NEAREST = ROUND_HALF_EVEN


def level(value: float) -> str:
    """Write a given level, such as a confidence, as it was given.

    >>> level(0.9973)
    '99.73 %'
    """
    return f"{100 * value:.10g} %"


def share(value: float, rounding: Rounding = Rounding.NEAREST) -> str:
    """Write an estimated share with three figures of its distance from 0 or 100 %.

    Lower bounds are printed with `Rounding.DOWN` and upper bounds with `Rounding.UP`, so that
    the text never claims more than the number.

    >>> share(0.99996512)
    '99.99651 %'
    """
    distance = 100 * min(value, 1 - value)
    if distance == 0:
        return level(value)
    decimals = min(12, max(1, 2 - math.floor(math.log10(distance))))
    exact = Decimal(value) * 100
    return f"{exact.quantize(Decimal(1).scaleb(-decimals), rounding=rounding.value)} %"


def count(value: int) -> str:
    """Write a count with thin groups of three.

    >>> count(1234567)
    '1 234 567'
    """
    return f"{value:,}".replace(",", " ")


def places(reach: float) -> int:
    """Choose how many decimals a number known within plus or minus `reach` is printed with.

    One or two figures of the reach.
    """
    if not reach > 0.0:
        return MOST_PLACES
    return min(max(math.ceil(-math.log10(0.5 * reach)), 0), MOST_PLACES)
