"""What every kind of leg has in common."""

from __future__ import annotations

from abc import abstractmethod
from typing import ClassVar

from leadline import vehicle
from leadline.study.numbers import Numbers
from leadline.study.record import Record
from leadline.study.walk import Walk

__all__ = ["LegRecord"]


class LegRecord(Record):
    """One step of the mission."""

    KIND: ClassVar[str]

    @property
    def name(self) -> str:
        """The leg's name, which stands under the key of its kind."""
        return str(getattr(self, self.KIND))

    @property
    def moved(self) -> str | None:
        """The element that this leg joins to the stack or takes from it."""
        return None

    @property
    def joins(self) -> bool:
        """Whether the element moved was apart before."""
        return False

    @property
    def filled(self) -> str | None:
        """The tank that this leg fills and that therefore starts empty."""
        return None

    @property
    def drawn(self) -> str | None:
        """The tank that must hold what this leg takes from it."""
        return None

    @property
    def fed(self) -> str | None:
        """The tank that receives what is drawn."""
        return None

    @property
    def burning(self) -> str | None:
        """The engine that burns."""
        return None

    @property
    def implied(self) -> tuple[str, ...]:
        """Names of the requirements that the leg brings with it, asked for or not."""
        return ()

    def bind_implied(self, numbers: Numbers) -> tuple[vehicle.Requirement, ...]:  # noqa: ARG002 - few legs have any
        """Make those requirements, in the order of their names."""
        return ()

    @abstractmethod
    def check(self, walk: Walk) -> None:
        """Check what the leg refers to, and move on what it joins and parts."""

    @abstractmethod
    def bind(self, numbers: Numbers) -> vehicle.Leg:
        """Make the leg that is flown."""
