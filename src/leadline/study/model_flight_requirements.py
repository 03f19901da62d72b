"""Requirements on mass and time, as a study writes them."""

from __future__ import annotations

from typing import Annotated

from leadline import vehicle
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.record import Record, field
from leadline.study.requirement_record import AfterRecord, RequirementRecord, Several, refuse_twins
from leadline.study.suggest import meant
from leadline.study.walk import Walk
from leadline.units import MASS, TIME

__all__ = ["BurnTimeRecord", "ElapsedRecord", "LiftedRecord", "MassBound", "StackMassRecord", "TimeBound"]


class LiftedRecord(RequirementRecord):
    """Elements with what their tanks hold at the start weigh at most so much together."""

    KIND = "lifted"
    lifted: Several = field("The elements lifted together.", "[saddle]")
    at_most: Annotated[Value, Quantity(MASS, AT_LEAST_ZERO)] = field("The most that can be lifted.", "12 t")

    def check(self, walk: Walk) -> None:
        """Check that every element exists and is named once."""
        for name in dict.fromkeys(self.lifted):
            walk.element("lifted", name)
        refuse_twins(self.lifted, "lifted", walk)

    def bind(self, name: str, numbers: Numbers) -> vehicle.LiftedMass:
        """Make the requirement that is judged."""
        return vehicle.LiftedMass(name, self.lifted, numbers.at(self.at_most, "at_most"))


class BurnTimeRecord(RequirementRecord):
    """The burns together last at most so long."""

    KIND = "burn_time"
    burn_time: Several = field("The burns, by the names of their legs.", "[departure, return]")
    at_most: Annotated[Value, Quantity(TIME, ABOVE_ZERO)] = field("The longest they may last together.", "20 min")

    def check(self, walk: Walk) -> None:
        """Check that every leg exists, is a burn, and its engine has a thrust."""
        for name in dict.fromkeys(self.burn_time):
            if walk.leg("burn_time", name):
                self._check_burn(name, walk)
        refuse_twins(self.burn_time, "burn_time", walk)

    @staticmethod
    def _check_burn(name: str, walk: Walk) -> None:
        leg = next((leg for leg in walk.parts.read_legs if leg.name == name), None)
        if leg is None:
            return
        if leg.burning is None:
            burns = [leg.name for leg in walk.parts.read_legs if leg.burning is not None]
            walk.refuse("burn_time", "no-burn", f"{name} is no burn.", meant(name, burns, "Burns"))
            return
        engine = walk.engines.get(leg.burning)
        if engine is not None and engine.thrust is None:
            message = f"{leg.burning}, which burns in {name}, has no thrust."
            walk.refuse("burn_time", "no-thrust", message, 'Give the engine its thrust, such as "thrust: 66 kN".')

    def bind(self, name: str, numbers: Numbers) -> vehicle.BurnTime:
        """Make the requirement that is judged."""
        return vehicle.BurnTime(name, self.burn_time, numbers.at(self.at_most, "at_most"))


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
