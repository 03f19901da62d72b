"""The probability laws by name, and what holds for all of them."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf
from typing import Any, Final

import numpy as np

from leadline.sampling.law import Array, Description, Law
from leadline.sampling.listed import Discrete, Empirical
from leadline.sampling.pert import Pert
from leadline.sampling.refusals import LawError
from leadline.sampling.smooth import Lognormal, Normal, Triangular, Uniform
from leadline.sampling.truncated import Clipped, TruncatedNormal

__all__ = [
    "LAWS",
    "Array",
    "Clipped",
    "Description",
    "Discrete",
    "Empirical",
    "Law",
    "Lognormal",
    "Normal",
    "Pert",
    "Triangular",
    "TruncatedNormal",
    "Uniform",
    "law_from_description",
    "probability_outside",
]

LAWS: Final[Mapping[str, type[Law]]] = {
    law.kind: law
    for law in (
        Normal,
        TruncatedNormal,
        Lognormal,
        Uniform,
        Triangular,
        Pert,
        Discrete,
        Empirical,
        Clipped,
    )
}
"""Every law by its kind."""


def law_from_description(description: Mapping[str, Any]) -> Law:
    """Return the law that `Law.describe` described.

    Parameters
    ----------
    description
        The kind under ``law``, and the parameters by name; None counts as left out.

    Raises
    ------
    LawError
        If the kind is unknown, a parameter is missing, unknown or out of its bounds.
    """
    given = {name: value for name, value in description.items() if value is not None}
    kind = given.pop("law", None)
    if kind not in LAWS:
        raise LawError(str(kind), "law", f"be one of {', '.join(LAWS)}", kind, "Name a law.")
    if "of" in given:
        given["law"] = law_from_description(given.pop("of"))
    try:
        return LAWS[kind](**given)
    except TypeError as error:
        remedy = f"The law says: {error}."
        raise LawError(kind, "parameters", "fit the law", sorted(given), remedy) from error


def probability_outside(
    law: Law,
    low: float = -inf,
    high: float = inf,
    *,
    open_low: bool = False,
    open_high: bool = False,
) -> float:
    """Return the chance that a law leaves its bounds, accurate where it is small.

    Parameters
    ----------
    law
        The law.
    low, high
        The bounds; infinite where there is none.
    open_low, open_high
        Whether the bound itself is already outside, as for a number that must be above
        zero; this matters for laws with steps only.
    """
    below = float(law.cdf(low if open_low else np.nextafter(low, -inf)))
    over = float(law.above(np.nextafter(high, -inf) if open_high else high))
    return min(below + over, 1.0)
