"""Requirements on an entry, as a study writes them."""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import BeforeValidator

from leadline import vehicle
from leadline.study.bounds import ABOVE_ZERO
from leadline.study.leg_reference import check_leg
from leadline.study.model_entry import EntryRecord
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.pydantic_errors import carried
from leadline.study.record import Reference, field
from leadline.study.requirement_record import RequirementRecord
from leadline.study.suggest import meant, shortened
from leadline.study.walk import Walk
from leadline.units import ACCELERATION, HEAT_FLUX, HEAT_LOAD

__all__ = ["DecelerationRecord", "HeatLoadRecord", "PeakHeatingRecord"]


def _part(given: object) -> object:
    known = [part.value for part in vehicle.Heating]
    if given in known:
        return vehicle.Heating(given)
    raise carried(
        "unknown-word", f'"{shortened(str(given))}" is no part of the heating.', meant(str(given), known, "Parts")
    )


Part = Annotated[vehicle.Heating, BeforeValidator(_part)]
_COUNT: Final = field(
    "Which part of the heating counts: total, convective or radiative.", "total", default=vehicle.Heating.TOTAL
)


class PeakHeatingRecord(RequirementRecord):
    """The largest heat flux at the stagnation point is at most so much."""

    KIND = "peak_heating"
    peak_heating: Reference = field("The entry, by the name of its leg.", "home")
    at_most: Annotated[Value, Quantity(HEAT_FLUX, ABOVE_ZERO)] = field("The most the shield stands.", "320 W/cm2")
    count: Part = _COUNT

    def check(self, walk: Walk) -> None:
        """Check that the leg exists and is an entry."""
        check_leg("peak_heating", self.peak_heating, EntryRecord, walk)

    def bind(self, name: str, numbers: Numbers) -> vehicle.PeakHeating:
        """Make the requirement that is judged."""
        return vehicle.PeakHeating(name, self.peak_heating, numbers.at(self.at_most, "at_most"), self.count)


class HeatLoadRecord(RequirementRecord):
    """The heat taken up at the stagnation point is at most so much."""

    KIND = "heat_load"
    heat_load: Reference = field("The entry, by the name of its leg.", "home")
    at_most: Annotated[Value, Quantity(HEAT_LOAD, ABOVE_ZERO)] = field("The most the shield stands.", "28 kJ/cm2")
    count: Part = _COUNT

    def check(self, walk: Walk) -> None:
        """Check that the leg exists and is an entry."""
        check_leg("heat_load", self.heat_load, EntryRecord, walk)

    def bind(self, name: str, numbers: Numbers) -> vehicle.HeatLoad:
        """Make the requirement that is judged."""
        return vehicle.HeatLoad(name, self.heat_load, numbers.at(self.at_most, "at_most"), self.count)


class DecelerationRecord(RequirementRecord):
    """The largest deceleration felt is at most so much."""

    KIND = "deceleration"
    deceleration: Reference = field("The entry, by the name of its leg.", "home")
    at_most: Annotated[Value, Quantity(ACCELERATION, ABOVE_ZERO)] = field("The most that may be felt.", "8 g0")

    def check(self, walk: Walk) -> None:
        """Check that the leg exists and is an entry."""
        check_leg("deceleration", self.deceleration, EntryRecord, walk)

    def bind(self, name: str, numbers: Numbers) -> vehicle.Deceleration:
        """Make the requirement that is judged."""
        return vehicle.Deceleration(name, self.deceleration, numbers.at(self.at_most, "at_most"))
