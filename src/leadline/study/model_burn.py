"""The burn as a study writes it."""

from __future__ import annotations

from typing import Annotated

from leadline import vehicle
from leadline.study.bounds import AT_LEAST_ZERO
from leadline.study.leg_record import LegRecord
from leadline.study.model_costs import Cost, CostRecord
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.record import Name, Reference, field
from leadline.study.walk import Walk
from leadline.units import SPEED

__all__ = ["BurnRecord"]


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
