"""The requirements as a study writes them.

The first key names the kind and holds what is bounded: a tank, an engine with its tank,
elements, burns. A kind that bounds the whole mission holds its bound itself. A new kind is
one more class in `REQUIREMENT_KINDS`.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, ClassVar, Final

from pydantic import BeforeValidator, Field, WithJsonSchema

from leadline import vehicle
from leadline.study import limits
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.pydantic_errors import carried
from leadline.study.record import Record, Reference, field
from leadline.study.suggest import meant, shortened
from leadline.study.walk import Walk
from leadline.units import MASS, SPEED, TIME

__all__ = ["REQUIREMENT_KINDS", "RequirementRecord"]


def _measure(given: object) -> object:
    known = [measure.value for measure in vehicle.Measure]
    if given in known:
        return vehicle.Measure(given)
    raise carried("unknown-word", f'"{shortened(str(given))}" cannot be counted.', meant(str(given), known, "Counts"))


def _as_list(given: object) -> object:
    return [given] if isinstance(given, str) else given


_AFTER: Final = field("The leg after which it must hold; the end of the mission if left out.", "return", default=None)
_Several = Annotated[
    tuple[Reference, ...],
    BeforeValidator(_as_list),
    Field(min_length=1, max_length=limits.LEGS),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]}),
]


class RequirementRecord(Record):
    """A bound that must hold."""

    KIND: ClassVar[str]

    @abstractmethod
    def check(self, walk: Walk) -> None:
        """Check what the requirement refers to."""

    @abstractmethod
    def bind(self, name: str, numbers: Numbers) -> vehicle.Requirement:
        """Make the requirement that is judged."""


class AfterRecord(RequirementRecord):
    """A bound that must hold after a leg."""

    after: Reference | None = _AFTER

    def check(self, walk: Walk) -> None:
        """Check that the leg exists."""
        if self.after is not None:
            walk.leg("after", self.after)


class PropellantRecord(AfterRecord):
    """Propellant in a tank, above what is unusable, is at least so much."""

    KIND = "propellant"
    propellant: Reference = field("The tank, as element.tank.", "saddle.main")
    at_least: Annotated[Value, Quantity(MASS)] = field("The least that may be left.", "0.9 t")
    count: Annotated[vehicle.Measure, BeforeValidator(_measure)] = field(
        "What counts: what can be burned at the engine's mixture ratio, all of it, or one liquid.",
        "burnable",
        default=vehicle.Measure.BURNABLE,
    )

    def check(self, walk: Walk) -> None:
        """Check that tank and leg exist, the tank is still there, and it has the liquid counted."""
        AfterRecord.check(self, walk)
        tank = walk.tank("propellant", self.propellant)
        walk.kept("propellant", self.propellant, self.after)
        if tank is not None and self.count is vehicle.Measure.OXIDISER and not tank.has_oxidiser:
            message = f"{tank.propellant} has no oxidiser."
            walk.refuse("count", "no-oxidiser", message, "Count fuel, total or burnable.")

    def bind(self, name: str, numbers: Numbers) -> vehicle.PropellantLeft:
        """Make the requirement that is judged."""
        at_least = numbers.at(self.at_least, "at_least")
        return vehicle.PropellantLeft(name, self.propellant, at_least, self.count, self.after)


class EngineAndTank(Record):
    """An engine and the tank it burns from."""

    engine: Reference = field("The engine, as element.engine.", "tern.main")
    tank: Reference = field("The tank, as element.tank.", "saddle.main")


class DeltaVRecord(AfterRecord):
    """The velocity change that the rest of a tank could still give is at least so much."""

    KIND = "delta_v"
    delta_v: EngineAndTank = field("The engine and its tank.", "{engine: tern.main, tank: saddle.main}")
    at_least: Annotated[Value, Quantity(SPEED)] = field("The least that may be left.", "50 m/s")

    def check(self, walk: Walk) -> None:
        """Check that engine, tank and leg exist, are in the stack then, and fit one another."""
        AfterRecord.check(self, walk)
        engine, tank = walk.engine("delta_v", self.delta_v.engine), walk.tank("delta_v", self.delta_v.tank)
        walk.present("delta_v", self.delta_v.engine, self.after)
        walk.present("delta_v", self.delta_v.tank, self.after)
        walk.match("delta_v", engine, tank)

    def bind(self, name: str, numbers: Numbers) -> vehicle.DeltaVLeft:
        """Make the requirement that is judged."""
        at_least = numbers.at(self.at_least, "at_least")
        return vehicle.DeltaVLeft(name, self.delta_v.engine, self.delta_v.tank, at_least, self.after)


class FillRecord(RequirementRecord):
    """What is in a tank fits its volume less the ullage, whenever it is filled."""

    KIND = "fill"
    fill: Reference = field("The tank, as element.tank.", "saddle.main")

    def check(self, walk: Walk) -> None:
        """Check that the tank exists and has a volume."""
        tank = walk.tank("fill", self.fill)
        if tank is not None and tank.volume is None:
            message = f"{self.fill} has no volume."
            walk.refuse("fill", "no-volume", message, 'Give the tank its volume, such as "volume: 170 m3".')

    def bind(self, name: str, numbers: Numbers) -> vehicle.TankFill:  # noqa: ARG002 - nothing in it is a number
        """Make the requirement that is judged."""
        return vehicle.TankFill(name, self.fill)


class LiftedRecord(RequirementRecord):
    """Elements with what their tanks hold at the start weigh at most so much together."""

    KIND = "lifted"
    lifted: _Several = field("The elements lifted together.", "[saddle]")
    at_most: Annotated[Value, Quantity(MASS, AT_LEAST_ZERO)] = field("The most that can be lifted.", "12 t")

    def check(self, walk: Walk) -> None:
        """Check that every element exists and is named once."""
        for name in dict.fromkeys(self.lifted):
            walk.element("lifted", name)
        _refuse_twins(self.lifted, "lifted", walk)

    def bind(self, name: str, numbers: Numbers) -> vehicle.LiftedMass:
        """Make the requirement that is judged."""
        return vehicle.LiftedMass(name, self.lifted, numbers.at(self.at_most, "at_most"))


class BurnTimeRecord(RequirementRecord):
    """The burns together last at most so long."""

    KIND = "burn_time"
    burn_time: _Several = field("The burns, by the names of their legs.", "[departure, return]")
    at_most: Annotated[Value, Quantity(TIME, ABOVE_ZERO)] = field("The longest they may last together.", "20 min")

    def check(self, walk: Walk) -> None:
        """Check that every leg exists, is a burn, and its engine has a thrust."""
        for name in dict.fromkeys(self.burn_time):
            if walk.leg("burn_time", name):
                self._check_burn(name, walk)
        _refuse_twins(self.burn_time, "burn_time", walk)

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


def _refuse_twins(names: tuple[str, ...], step: str, walk: Walk) -> None:
    twins = sorted({name for name in names if names.count(name) > 1})
    if twins:
        walk.refuse(step, "twice", f"{', '.join(twins)} is named twice.", "Name each once.")


REQUIREMENT_KINDS: Final[Mapping[str, type[RequirementRecord]]] = MappingProxyType(
    {
        kind.KIND: kind
        for kind in (
            PropellantRecord,
            DeltaVRecord,
            FillRecord,
            LiftedRecord,
            BurnTimeRecord,
            StackMassRecord,
            ElapsedRecord,
        )
    }
)
"""Every kind of requirement by the key that names it."""
