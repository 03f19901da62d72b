"""Coasts, and elements that join and leave, as a study writes them."""

from __future__ import annotations

from typing import Annotated

from leadline import vehicle
from leadline.study.bounds import AT_LEAST_ZERO
from leadline.study.leg_record import LegRecord
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.record import Name, Reference, field
from leadline.study.walk import Walk
from leadline.units import TIME

__all__ = ["CoastRecord", "DockRecord", "DropRecord", "MoveRecord", "UndockRecord"]


class CoastRecord(LegRecord):
    """Let time pass."""

    KIND = "coast"
    coast: Name = field("The leg's name.", "outbound")
    lasts: Annotated[Value, Quantity(TIME, AT_LEAST_ZERO)] = field("How long it lasts.", "96 h")

    def check(self, walk: Walk) -> None:
        """Check nothing: a coast refers to nothing."""

    def bind(self, numbers: Numbers) -> vehicle.Coast:
        """Make the leg that is flown."""
        return vehicle.Coast(self.name, numbers.at(self.lasts, "lasts"))


class MoveRecord(LegRecord):
    """A leg that joins an element to the stack or takes it away."""

    element: Reference = field("The element.", "saddle")

    @property
    def moved(self) -> str:
        """The element that this leg joins or parts."""
        return self.element


class DropRecord(MoveRecord):
    """Leave an element behind for good, with whatever it holds."""

    KIND = "drop"
    drop: Name = field("The leg's name.", "let the saddle go")

    def check(self, walk: Walk) -> None:
        """Check that the element is in the stack; afterwards it is gone."""
        if walk.element("element", self.element):
            walk.present("element", self.element)
            walk.part(self.element, dropped_by=self.name)

    def bind(self, numbers: Numbers) -> vehicle.Drop:  # noqa: ARG002 - nothing in it is a number
        """Make the leg that is flown."""
        return vehicle.Drop(self.name, self.element)


class DockRecord(MoveRecord):
    """Join an element that is apart to the stack."""

    KIND = "dock"
    dock: Name = field("The leg's name.", "meet the saddle")

    @property
    def joins(self) -> bool:
        """It was apart before."""
        return True

    def check(self, walk: Walk) -> None:
        """Check that the element is apart; afterwards it is in the stack."""
        if not walk.element("element", self.element):
            return
        if walk.sure and self.element in walk.formation.stack:
            message = f"{self.element} is in the stack already."
            walk.refuse("element", "docked", message, "Take this leg out, or undock it before.")
        walk.kept("element", self.element)
        walk.join(self.element)

    def bind(self, numbers: Numbers) -> vehicle.Dock:  # noqa: ARG002 - nothing in it is a number
        """Make the leg that is flown."""
        return vehicle.Dock(self.name, self.element)


class UndockRecord(MoveRecord):
    """Part an element from the stack; it stays in the mission and may dock again."""

    KIND = "undock"
    undock: Name = field("The leg's name.", "leave the tug")

    def check(self, walk: Walk) -> None:
        """Check that the element is in the stack; afterwards it is apart."""
        if walk.element("element", self.element):
            walk.present("element", self.element)
            walk.part(self.element)

    def bind(self, numbers: Numbers) -> vehicle.Undock:  # noqa: ARG002 - nothing in it is a number
        """Make the leg that is flown."""
        return vehicle.Undock(self.name, self.element)
