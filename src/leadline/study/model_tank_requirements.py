"""Requirements on what tanks hold, as a study writes them."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator

from leadline import vehicle
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.pydantic_errors import carried
from leadline.study.record import Record, Reference, field
from leadline.study.requirement_record import AfterRecord, RequirementRecord
from leadline.study.suggest import meant, shortened
from leadline.study.walk import Walk
from leadline.units import MASS, SPEED

__all__ = ["DeltaVRecord", "EngineAndTank", "FillRecord", "PropellantRecord"]


def _measure(given: object) -> object:
    known = [measure.value for measure in vehicle.Measure]
    if given in known:
        return vehicle.Measure(given)
    raise carried("unknown-word", f'"{shortened(str(given))}" cannot be counted.', meant(str(given), known, "Counts"))


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
        if tank is not None and not tank.has_volume:
            message = f"{self.fill} has no volume."
            walk.refuse("fill", "no-volume", message, 'Give the tank its volume, such as "volume: 170 m3".')

    def bind(self, name: str, numbers: Numbers) -> vehicle.TankFill:  # noqa: ARG002 - nothing in it is a number
        """Make the requirement that is judged."""
        return vehicle.TankFill(name, self.fill)
