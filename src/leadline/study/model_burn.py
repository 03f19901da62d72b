"""The burn as a study writes it."""

from __future__ import annotations

from typing import Annotated

from leadline import vehicle
from leadline.sampling import Uniform
from leadline.study.bounds import AT_LEAST_ZERO
from leadline.study.model_costs import Cost, CostRecord
from leadline.study.model_finite_burn import FiniteBurnRecord, completion_name
from leadline.study.model_numbers import Quantity, Value
from leadline.study.model_vehicle import MOST_ENGINES, EngineRecord
from leadline.study.numbers import Numbers
from leadline.study.parts import ignition_name
from leadline.study.plain_fields import Whole
from leadline.study.record import Name, Reference, field
from leadline.study.walk import Walk
from leadline.units import SPEED
from leadline.vehicle import Column, Number

__all__ = ["BurnRecord"]


class BurnRecord(FiniteBurnRecord):
    """Give the stack a velocity change with one engine from one tank."""

    KIND = "burn"
    burn: Name = field("The leg's name.", "departure")
    engine: Reference = field("The engine, as element.engine.", "tern.main")
    tank: Reference = field("The tank, as element.tank.", "saddle.main")
    cost: Annotated[Value | CostRecord, Cost(Quantity(SPEED, AT_LEAST_ZERO))] = field(
        "The velocity change it must give, or the geometry it follows from.", "3.1 km/s"
    )
    running: Annotated[int | None, Whole(1, MOST_ENGINES)] = field(
        "How many of several engines are started, where one or more are out; all if left out.", "2", default=None
    )

    @property
    def drawn(self) -> str:
        """The tank it burns from."""
        return self.tank

    @property
    def burning(self) -> str:
        """The engine that burns."""
        return self.engine

    @property
    def implied(self) -> tuple[str, ...]:
        """A burn of finite length must complete; what ignition asks for comes with the engine."""
        return (completion_name(self.name),) if self.at_length else ()

    def check(self, walk: Walk) -> None:
        """Check that engine and tank exist, are in the stack and fit one another, and that the burn can be flown."""
        engine, tank = walk.engine("engine", self.engine), walk.tank("tank", self.tank)
        walk.present("engine", self.engine)
        walk.present("tank", self.tank)
        walk.match("engine", engine, tank)
        if isinstance(self.cost, CostRecord):
            self.cost.check(walk)
        if engine is not None:
            self._check_running(engine, walk)
        self.check_finite(self.cost, engine, walk)

    def bind(self, numbers: Numbers) -> vehicle.Burn:
        """Make the leg that is flown."""
        cost = self._bind_cost(numbers)
        finite = self.bind_finite(self.cost, numbers)
        draws = self._draws(numbers) if self._may_fail(numbers) else ()
        return vehicle.Burn(self.name, self.engine, self.tank, cost, finite, draws, self.running)

    def bind_implied(self, numbers: Numbers) -> tuple[vehicle.Requirement, ...]:
        """Make the requirements on completion and ignition."""
        made: list[vehicle.Requirement] = []
        if self.at_length:
            made.append(vehicle.Completion(completion_name(self.name), self.name))
        if self._may_fail(numbers):
            made.append(vehicle.Ignition(ignition_name(self.name), self.name))
        return tuple(made)

    def _bind_cost(self, numbers: Numbers) -> Number:
        if isinstance(self.cost, CostRecord):
            return self.cost.bind(numbers.under("cost", self.cost.KIND))
        return numbers.at(self.cost, "cost")

    def _may_fail(self, numbers: Numbers) -> bool:
        engine = numbers.engines.get(self.engine)  # there is none in a study that is refused for it
        return engine is not None and engine.ignites is not None

    def _draws(self, numbers: Numbers) -> tuple[Column, ...]:
        """Draw one number for each start."""
        return tuple(numbers.drawn(f"ignition#{start + 1}", Uniform(0.0, 1.0)) for start in range(self.starts))

    def _check_running(self, engine: EngineRecord, walk: Walk) -> None:
        if self.running is None:
            return
        if self.running > engine.how_many:
            message = f"{self.running} engines are started, and the count of {self.engine} is {engine.how_many}."
            walk.refuse("running", "too-many", message, 'Give the engine its count, such as "count: 3".')
        elif self.running < engine.least:
            message = f"{self.running} engines are started, and {engine.least} of {self.engine} are needed."
            walk.refuse("running", "too-few", message, "Give the engine a smaller number under needed.")
