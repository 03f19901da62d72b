"""Requirements on mass and time, as a study writes them."""

from __future__ import annotations

from typing import Annotated

from leadline import vehicle
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.record import Record, Reference, field
from leadline.study.requirement_record import AfterRecord, RequirementRecord, Several, refuse_twins
from leadline.study.walk import Walk
from leadline.units import MASS, TIME

__all__ = ["ElapsedRecord", "LiftedRecord", "MassBound", "StackMassRecord", "TimeBound"]


class LiftedRecord(RequirementRecord):
    """Elements with what their tanks hold, at the start or after a leg, weigh at most so much together."""

    KIND = "lifted"
    lifted: Several = field("The elements lifted together.", "[saddle]")
    at_most: Annotated[Value, Quantity(MASS, AT_LEAST_ZERO)] = field("The most that can be lifted.", "12 t")
    after: Reference | None = field(
        "The leg after which they are weighed; as they are at the start if left out.", "load the ferry", default=None
    )

    def check(self, walk: Walk) -> None:
        """Check that every element exists and is named once, and the leg exists."""
        if self.after is not None:
            walk.leg("after", self.after)
        for name in dict.fromkeys(self.lifted):
            walk.element("lifted", name)
        refuse_twins(self.lifted, "lifted", walk)

    def bind(self, name: str, numbers: Numbers) -> vehicle.LiftedMass:
        """Make the requirement that is judged."""
        return vehicle.LiftedMass(name, self.lifted, numbers.at(self.at_most, "at_most"), self.after)


class MassBound(Record):
    """The most that the stack may weigh."""

    at_most: Annotated[Value, Quantity(MASS, ABOVE_ZERO)] = field("The most it may weigh.", "90 t")


class StackMassRecord(AfterRecord):
    """The stack weighs at most so much."""

    KIND = "stack_mass"
    stack_mass: MassBound = field("The bound.", "{at_most: 90 t}")

    def bind(self, name: str, numbers: Numbers) -> vehicle.StackMass:
        """Make the requirement that is judged."""
        return vehicle.StackMass(name, numbers.at(self.stack_mass.at_most, "stack_mass.at_most"), self.after)


class TimeBound(Record):
    """The longest that the mission may take."""

    at_most: Annotated[Value, Quantity(TIME, ABOVE_ZERO)] = field("The longest it may take.", "12 d")


class ElapsedRecord(AfterRecord):
    """The mission has taken at most so long."""

    KIND = "elapsed"
    elapsed: TimeBound = field("The bound.", "{at_most: 12 d}")

    def bind(self, name: str, numbers: Numbers) -> vehicle.ElapsedTime:
        """Make the requirement that is judged."""
        return vehicle.ElapsedTime(name, numbers.at(self.elapsed.at_most, "elapsed.at_most"), self.after)
