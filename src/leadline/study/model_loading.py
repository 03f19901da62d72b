"""Propellant loaded and moved, as a study writes it."""

from __future__ import annotations

from typing import Annotated

from leadline import vehicle
from leadline.study.bounds import AT_LEAST_ZERO, PART_OF_ONE
from leadline.study.leg_record import LegRecord
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.record import Name, Reference, field
from leadline.study.walk import Walk
from leadline.units import FRACTION, MASS

__all__ = ["LoadRecord", "TransferRecord"]


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
