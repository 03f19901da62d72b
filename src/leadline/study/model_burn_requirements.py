"""Requirements on burns, as a study writes them."""

from __future__ import annotations

from typing import Annotated

from leadline import vehicle
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO
from leadline.study.model_belts import BELT_NAMES, shells_of
from leadline.study.model_burn import BurnRecord
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.plain_fields import Word
from leadline.study.record import Record, field
from leadline.study.requirement_record import RequirementRecord, Several, refuse_twins
from leadline.study.suggest import meant
from leadline.study.walk import Walk
from leadline.units import SPEED, TIME

__all__ = ["BeltBound", "BeltHoursRecord", "BurnLossRecord", "BurnTimeRecord"]


def _burns(names: tuple[str, ...], step: str, walk: Walk) -> list[BurnRecord]:
    """Find the burns of these names, noting what is none or is named twice."""
    found = [_burn(name, step, walk) for name in dict.fromkeys(names) if walk.leg(step, name)]
    refuse_twins(names, step, walk)
    return [burn for burn in found if burn is not None]


def _burn(name: str, step: str, walk: Walk) -> BurnRecord | None:
    leg = next((leg for leg in walk.parts.read_legs if leg.name == name), None)
    if leg is None or isinstance(leg, BurnRecord):
        return leg
    burns = [leg.name for leg in walk.parts.read_legs if isinstance(leg, BurnRecord)]
    walk.refuse(step, "no-burn", f"{name} is no burn.", meant(name, burns, "Burns"))
    return None


class BurnTimeRecord(RequirementRecord):
    """The burns together last at most so long."""

    KIND = "burn_time"
    burn_time: Several = field("The burns, by the names of their legs.", "[departure, return]")
    at_most: Annotated[Value, Quantity(TIME, ABOVE_ZERO)] = field("The longest they may last together.", "20 min")

    def check(self, walk: Walk) -> None:
        """Check that every leg exists, is a burn, and its engine has a thrust."""
        for burn in _burns(self.burn_time, "burn_time", walk):
            engine = walk.engines.get(burn.engine)
            if engine is not None and engine.thrust is None:
                message = f"{burn.engine}, which burns in {burn.name}, has no thrust."
                remedy = 'Give the engine its thrust, such as "thrust: 66 kN".'
                walk.refuse("burn_time", "no-thrust", message, remedy)

    def bind(self, name: str, numbers: Numbers) -> vehicle.BurnTime:
        """Make the requirement that is judged."""
        return vehicle.BurnTime(name, self.burn_time, numbers.at(self.at_most, "at_most"))


class BurnLossRecord(RequirementRecord):
    """The burns together lose at most so much to the time they take."""

    KIND = "loss"
    loss: Several = field("The burns, by the names of their legs.", "[departure]")
    at_most: Annotated[Value, Quantity(SPEED, AT_LEAST_ZERO)] = field("The most they may lose together.", "150 m/s")

    def check(self, walk: Walk) -> None:
        """Check that every leg exists and is a burn whose loss is computed."""
        for burn in _burns(self.loss, "loss", walk):
            if not burn.at_length:
                message = f"{burn.name} is flown at once and loses nothing."
                walk.refuse("loss", "no-finite-burn", message, f'Write "steering: tangential" in {burn.name}.')

    def bind(self, name: str, numbers: Numbers) -> vehicle.BurnLoss:
        """Make the requirement that is judged."""
        return vehicle.BurnLoss(name, self.loss, numbers.at(self.at_most, "at_most"))


class BeltBound(Record):
    """The longest that the stack may be in the radiation belts."""

    at_most: Annotated[Value, Quantity(TIME, AT_LEAST_ZERO)] = field("The longest it may be.", "9 h")
    belt: Annotated[str | None, Word(BELT_NAMES, "Belts")] = field(
        "The belt that counts; all of them if left out.", "inner", default=None
    )


class BeltHoursRecord(RequirementRecord):
    """The stack is at most so long in the radiation belts on its way out."""

    KIND = "belt_hours"
    belt_hours: BeltBound = field("The bound.", "{at_most: 9 h}")

    def check(self, walk: Walk) -> None:
        """Check that some burn tells the belts."""
        burns = [leg for leg in walk.parts.read_legs if isinstance(leg, BurnRecord) and leg.at_length]
        known = {shell.name for burn in burns for shell in shells_of(burn.belts)}
        wanted = self.belt_hours.belt
        if walk.sure and (not known or (wanted is not None and wanted not in known)):
            message = f"No burn tells where the {'' if wanted is None else wanted + ' '}belt lies."
            remedy = 'Write "belts: encyclopaedia" in the burn that leaves the Earth.'
            walk.refuse("belt_hours", "no-belts", message, remedy)

    def bind(self, name: str, numbers: Numbers) -> vehicle.BeltTime:
        """Make the requirement that is judged."""
        bound = self.belt_hours
        return vehicle.BeltTime(name, numbers.at(bound.at_most, "belt_hours.at_most"), bound.belt)
