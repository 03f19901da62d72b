"""Coasts, and elements that join and leave, as a study writes them."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator

from leadline import vehicle
from leadline.study.bounds import AT_LEAST_ZERO
from leadline.study.leg_record import LegRecord
from leadline.study.liquid_values import environments_of
from leadline.study.model_numbers import Quantity, Value
from leadline.study.model_tank import TankRecord
from leadline.study.numbers import Numbers
from leadline.study.pydantic_errors import carried
from leadline.study.record import Name, Reference, field
from leadline.study.suggest import listed, meant, shortened
from leadline.study.walk import Walk
from leadline.units import TIME

__all__ = ["CoastRecord", "DockRecord", "DropRecord", "MoveRecord", "UndockRecord"]


def _environment(given: object) -> object:
    known = [environment.value for environment in vehicle.Environment]
    if given is None or given in known:
        return None if given is None else vehicle.Environment(given)
    message = f'"{shortened(str(given))}" is no environment known.'
    raise carried("unknown-word", message, meant(str(given), known, "Environments"))


class CoastRecord(LegRecord):
    """Let time pass."""

    KIND = "coast"
    coast: Name = field("The leg's name.", "outbound")
    lasts: Annotated[Value, Quantity(TIME, AT_LEAST_ZERO)] = field("How long it lasts.", "96 h")
    environment: Annotated[vehicle.Environment | None, BeforeValidator(_environment)] = field(
        "Where it is; wanted where tanks give their heat by environment.", "deep space", default=None
    )

    def check(self, walk: Walk) -> None:
        """Check that tanks whose heat depends on the environment are told it and know it."""
        for name, tank in walk.tanks.items():
            if name.partition(".")[0] not in walk.formation.gone:
                self._check_tank(name, tank, walk)

    def _check_tank(self, name: str, tank: TankRecord, walk: Walk) -> None:
        given = [heat for role in tank.combination.roles if (heat := environments_of(tank, role)) is not None]
        known = [environment.value for environment, _ in given[0].values] if given else []
        if given and self.environment is None:
            message = f"{name} gives its heat by environment, and this coast does not say where it is."
            walk.refuse("", "no-environment", message, f'Write "environment: {known[0]}". {name} has: {listed(known)}.')
        elif any(self.environment not in dict(heat.values) for heat in given):
            message = f"{name} gives no heat for this environment."
            remedy = f"Give it in the tank too, or name another. {name} has: {listed(known)}."
            walk.refuse("environment", "no-environment", message, remedy)

    def bind(self, numbers: Numbers) -> vehicle.Coast:
        """Make the leg that is flown."""
        return vehicle.Coast(self.name, numbers.at(self.lasts, "lasts"), self.environment)


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
