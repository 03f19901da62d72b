"""The legs as a study writes them, each kind with its keys, its checks and its binding.

A leg is a mapping with one key that names its kind and holds the leg's name. A new kind is
one more class in `LEG_KINDS`.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, ClassVar, Final

from leadline import vehicle
from leadline.study.bounds import AT_LEAST_ZERO, PART_OF_ONE
from leadline.study.model_costs import Cost, CostRecord
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.record import Name, Record, Reference, field
from leadline.study.walk import Walk
from leadline.units import FRACTION, MASS, SPEED, TIME

__all__ = ["LEG_KINDS", "LegRecord"]


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

    @abstractmethod
    def check(self, walk: Walk) -> None:
        """Check what the leg refers to, and move on what it joins and parts."""

    @abstractmethod
    def bind(self, numbers: Numbers) -> vehicle.Leg:
        """Make the leg that is flown."""


class LoadRecord(LegRecord):
    """Put propellant into a tank, which starts empty."""

    KIND = "load"
    load: Name = field("The leg's name.", "fill at the depot")
    tank: Reference = field("The tank, as element.tank.", "saddle.main")
    amount: Annotated[Value | None, Quantity(MASS, AT_LEAST_ZERO)] = field(
        "How much goes in; the tank's own load if left out.", "50 t", default=None
    )

    @property
    def filled(self) -> str:
        """The tank filled."""
        return self.tank

    def check(self, walk: Walk) -> None:
        """Check that the tank exists, is not left behind, and that it is known how much goes in."""
        tank = walk.tank("tank", self.tank)
        walk.kept("tank", self.tank)
        if tank is not None and tank.load is None and self.amount is None:
            message = f"Neither this leg nor {self.tank} says how much is loaded."
            walk.refuse("", "missing-key", message, 'Give the leg "amount: 50 t", or the tank "load: 50 t".')

    def bind(self, numbers: Numbers) -> vehicle.Load:
        """Make the leg that is flown."""
        return vehicle.Load(self.name, self.tank, numbers.optional(self.amount, "amount"))


class BurnRecord(LegRecord):
    """Give the stack a velocity change with one engine from one tank."""

    KIND = "burn"
    burn: Name = field("The leg's name.", "departure")
    engine: Reference = field("The engine, as element.engine.", "tern.main")
    tank: Reference = field("The tank, as element.tank.", "saddle.main")
    cost: Annotated[Value | CostRecord, Cost(Quantity(SPEED, AT_LEAST_ZERO))] = field(
        "The velocity change it must give, or the geometry it follows from.", "3.1 km/s"
    )

    @property
    def drawn(self) -> str:
        """The tank it burns from."""
        return self.tank

    @property
    def burning(self) -> str:
        """The engine that burns."""
        return self.engine

    def check(self, walk: Walk) -> None:
        """Check that engine and tank exist, are in the stack and fit one another."""
        engine, tank = walk.engine("engine", self.engine), walk.tank("tank", self.tank)
        walk.present("engine", self.engine)
        walk.present("tank", self.tank)
        walk.match("engine", engine, tank)
        if isinstance(self.cost, CostRecord):
            self.cost.check(walk)

    def bind(self, numbers: Numbers) -> vehicle.Burn:
        """Make the leg that is flown."""
        if isinstance(self.cost, CostRecord):
            cost = self.cost.bind(numbers.under("cost", self.cost.KIND))
        else:
            cost = numbers.at(self.cost, "cost")
        return vehicle.Burn(self.name, self.engine, self.tank, cost)


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


class TransferRecord(LegRecord):
    """Move propellant from one tank to another."""

    KIND = "transfer"
    transfer: Name = field("The leg's name.", "top up")
    source: Reference = field("The tank it comes from.", "tug.main", alias="from")
    target: Reference = field("The tank it goes to.", "tern.main", alias="to")
    amount: Annotated[Value, Quantity(MASS, AT_LEAST_ZERO)] = field("How much leaves the first tank.", "2 t")
    loss: Annotated[Value, Quantity(FRACTION, PART_OF_ONE)] = field(
        "Share of it that does not arrive.", "1 %", default=0.0
    )

    @property
    def drawn(self) -> str:
        """The tank it takes from."""
        return self.source

    @property
    def fed(self) -> str:
        """The tank it gives to."""
        return self.target

    def check(self, walk: Walk) -> None:
        """Check that both tanks exist, are in the stack, are two, and hold the same propellant."""
        source, target = walk.tank("from", self.source), walk.tank("to", self.target)
        walk.present("from", self.source)
        walk.present("to", self.target)
        if self.source == self.target:
            walk.refuse("to", "same-tank", "The propellant goes back to where it comes from.", "Name two tanks.")
        if source is not None and target is not None and source.propellant != target.propellant:
            message = f"{self.source} holds {source.propellant} and {self.target} {target.propellant}."
            walk.refuse("to", "propellants", message, "Name two tanks with the same propellant.")

    def bind(self, numbers: Numbers) -> vehicle.Transfer:
        """Make the leg that is flown."""
        amount, loss = numbers.at(self.amount, "amount"), numbers.at(self.loss, "loss")
        return vehicle.Transfer(self.name, self.source, self.target, amount, loss)


LEG_KINDS: Final[Mapping[str, type[LegRecord]]] = MappingProxyType(
    {
        kind.KIND: kind
        for kind in (LoadRecord, BurnRecord, CoastRecord, DropRecord, DockRecord, UndockRecord, TransferRecord)
    }
)
"""Every kind of leg by the key that names it."""
