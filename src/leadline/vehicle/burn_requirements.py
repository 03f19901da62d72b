"""What may be required of burns besides how long they last."""

from __future__ import annotations

from dataclasses import dataclass

from leadline.vehicle.numbers import Number

__all__ = ["BeltTime", "BurnLoss", "Completion", "Ignition"]


@dataclass(frozen=True, slots=True)
class BurnLoss:
    """The named burns together lose at most so much beyond their impulsive costs."""

    name: str
    burns: tuple[str, ...]
    at_most_m_s: Number


@dataclass(frozen=True, slots=True)
class BeltTime:
    """All burns together leave the stack at most so long in the radiation belts; `belt` None counts all of them."""

    name: str
    at_most_s: Number
    belt: str | None = None


@dataclass(frozen=True, slots=True)
class Completion:
    """The thrust is enough for a burn of finite length to reach its energy.

    Present for each such burn, whether the study asks for it or not.
    """

    name: str
    burn: str


@dataclass(frozen=True, slots=True)
class Ignition:
    """Enough engines light at every start of a burn.

    Present for each burn whose engines may fail to light, whether the study asks for it or not.
    """

    name: str
    burn: str
