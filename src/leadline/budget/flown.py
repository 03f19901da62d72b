"""What is kept of a burn of finite length for the requirements on it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

__all__ = ["FlownBurn"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FlownBurn:
    """A burn of finite length as n cases flew it.

    Parameters
    ----------
    loss_m_s : (n,)
        Ideal velocity spent beyond the impulsive cost, m/s.
    spare_arc_rad : (n,)
        How much more arc steering and table allow, rad; below zero where the thrust is too low.
    belt_times_s : by belt, (n,)
        Time in each radiation belt, s; empty unless asked for.
    """

    loss_m_s: Array
    spare_arc_rad: Array
    belt_times_s: dict[str, Array] = field(default_factory=dict)
