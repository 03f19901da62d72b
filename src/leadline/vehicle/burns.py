"""Burns of finite length: the orbit they are flown in, where they thrust, the belts they pass."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from leadline.vehicle.numbers import Number

__all__ = ["BeltShell", "FiniteBurn", "Steering"]


class Steering(StrEnum):
    """Where the thrust points during a burn."""

    TANGENTIAL = "tangential"
    FIXED = "fixed"


@dataclass(frozen=True, slots=True)
class BeltShell:
    """A radiation belt between two altitudes; `published` names whose bounds they are, None for the study's own."""

    name: str
    low_m: float
    high_m: float
    published: str | None = None


@dataclass(frozen=True, slots=True)
class FiniteBurn:
    """What makes a burn of finite length cost more than an impulse.

    It leaves a circular orbit about `body` (``earth`` or ``moon``) or, where `arrives` is true, ends in one. `passes`
    burns share the cost, each near perigee; the time between them is flown round. `belts` are met on the way out.
    """

    body: str
    altitude_m: Number
    arrives: bool = False
    steering: Steering = Steering.TANGENTIAL
    passes: int = 1
    belts: tuple[BeltShell, ...] = ()
