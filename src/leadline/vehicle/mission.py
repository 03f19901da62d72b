"""A mission: a vehicle, the legs it flies and the requirements it must meet."""

from __future__ import annotations

from dataclasses import dataclass, field

from leadline.vehicle.legs import Leg
from leadline.vehicle.parts import Element
from leadline.vehicle.requirements import Requirement

__all__ = ["Mission"]


@dataclass(frozen=True, slots=True)
class Mission:
    """A vehicle, the legs it flies and the requirements it must meet.

    References between parts (a burn's tank, a requirement's leg) have been checked by
    whoever built it; `apart` names the elements that are not in the stack at the start.
    """

    title: str
    elements: tuple[Element, ...]
    legs: tuple[Leg, ...]
    requirements: tuple[Requirement, ...]
    apart: frozenset[str] = field(default_factory=frozenset)
