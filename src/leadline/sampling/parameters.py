"""Checks of law parameters, written so that NaN fails."""

from __future__ import annotations

import math
from collections.abc import Iterable
from numbers import Real

from leadline.sampling.refusals import LawError

__all__ = ["bound", "number", "numbers", "ordered"]


def number(law: str, field: str, value: object) -> float:
    """Return a finite number as a plain float.

    Raises
    ------
    LawError
        If the value is no real number, or not finite.
    """
    converted = _real(law, field, value)
    if not math.isfinite(converted):
        raise LawError(law, field, "be a finite number", value, "Write a plain number.")
    return converted


def bound(law: str, field: str, value: object) -> float:
    """Return a bound as a plain float; infinite means there is none.

    Raises
    ------
    LawError
        If the value is no real number, or NaN.
    """
    converted = _real(law, field, value)
    if math.isnan(converted):
        raise LawError(law, field, "be a number", value, "Leave the bound out where there is none.")
    return converted


def numbers(law: str, field: str, values: Iterable[object]) -> tuple[float, ...]:
    """Return finite numbers as a tuple of plain floats.

    Raises
    ------
    LawError
        If one of them is no real number, or not finite.
    """
    return tuple(number(law, f"{field}[{at}]", value) for at, value in enumerate(values))


def ordered(law: str, low: float, likely: float, high: float) -> None:
    """Check that low <= likely <= high with room between the ends.

    Raises
    ------
    LawError
        If they are out of order, or the range is empty or overflows.
    """
    if not low < high:
        raise LawError(law, "high", f"be above low = {low:g}", high, "Write the larger end last.")
    if not low <= likely <= high:
        between = f"lie between low = {low:g} and high = {high:g}"
        raise LawError(law, "likely", between, likely, "Put the most likely value inside the range.")
    if not high - low < math.inf:
        raise LawError(law, "high", "leave a finite width", high, "Use a larger unit.")


def _real(law: str, field: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, Real):
        raise LawError(law, field, "be a number", value, "Write a plain number.")
    return float(value)
