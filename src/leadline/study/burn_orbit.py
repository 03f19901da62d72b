"""The circular orbit that a burn leaves or ends in."""

from __future__ import annotations

from dataclasses import dataclass

from leadline.study.model_numbers import Value

__all__ = ["BurnOrbit"]


@dataclass(frozen=True, slots=True)
class BurnOrbit:
    """The orbit at the inner end of a burn, told by its cost or by the burn itself.

    Parameters
    ----------
    about
        The body.
    altitude
        Altitude of the orbit, or of its low point, m.
    key
        Where in the cost, or in the burn, the altitude stands.
    arrives
        Whether the burn ends there instead of starting.
    circular
        Whether the orbit is a circle for certain.
    """

    about: str
    altitude: Value
    key: str
    arrives: bool = False
    circular: bool = True
