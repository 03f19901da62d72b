"""A tanker campaign, and what may be asked of it, as a study writes them."""

from __future__ import annotations

from typing import Annotated, Any, Final

from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema

from leadline import vehicle
from leadline.errors import Issue
from leadline.sampling import Uniform
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO, Bounds
from leadline.study.dispersion import Dispersion
from leadline.study.leg_record import LegRecord
from leadline.study.leg_reference import check_leg
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.pydantic_errors import carried
from leadline.study.record import Name, Reference, field
from leadline.study.requirement_record import RequirementRecord
from leadline.study.suggest import meant, shortened
from leadline.study.walk import Walk
from leadline.units import FRACTION, MASS, RATIO, TIME

__all__ = ["FlightsRecord", "RefuelRecord", "Whole"]

_MOST_FLIGHTS: Final = 40
_ALLOWED, _REFUSED = "allowed", "refused"


class Whole(Quantity):
    """Marks a field as a whole number."""

    def made(self, given: Any, info: ValidationInfo) -> Value | list[Issue]:
        """Make the number, or say everything that is wrong with it."""
        made = Quantity.made(self, given, info)
        if isinstance(made, float) and not made.is_integer():
            return [Issue((), f'"{given}" is not a whole number.', "Write a whole number.", "not-whole")]
        return made


def _partly(given: object) -> object:
    if given in {_ALLOWED, _REFUSED}:
        return given
    message = f'"{shortened(str(given))}" does not say whether the mission may go on with less.'
    raise carried("unknown-word", message, meant(str(given), (_ALLOWED, _REFUSED), "Words"))


class RefuelRecord(LegRecord):
    """Fill a tank up to its load by tanker flights; it starts empty unless an earlier leg loads it."""

    KIND = "refuel"
    refuel: Name = field("The leg's name.", "fill at the depot")
    tank: Reference = field("The tank, as element.tank; its load is what it is filled up to.", "saddle.main")
    flights: Annotated[float, Whole(RATIO, Bounds(1.0, _MOST_FLIGHTS), fixed=True)] = field("Flights planned.", "5")
    spare: Annotated[float, Whole(RATIO, Bounds(0.0, _MOST_FLIGHTS), fixed=True)] = field(
        "Further flights at hand, should the planned ones not suffice.", "1", default=0.0
    )
    delivered: Annotated[Value, Quantity(MASS, ABOVE_ZERO)] = field(
        "What a flight that arrives can put into the tank; each flight is drawn anew.", "{mean: 9.6 t, sd: 0.3 t}"
    )
    arrives: Annotated[Value, Quantity(FRACTION, Bounds(0.0, 1.0))] = field(
        "Chance that a flight arrives; each flight is drawn anew.", "97 %", default=1.0
    )
    every: Annotated[Value, Quantity(TIME, AT_LEAST_ZERO)] = field(
        "Time between flights, each drawn anew; the first comes after one such time.",
        "{low: 5 d, likely: 8 d, high: 16 d}",
    )
    deadline: Annotated[Value | None, Quantity(TIME, ABOVE_ZERO)] = field(
        "How long the campaign may last; no flight comes later.", "60 d", default=None
    )
    partly: Annotated[str, BeforeValidator(_partly), WithJsonSchema({"enum": [_ALLOWED, _REFUSED]})] = field(
        "Whether the mission may go on with less than the load: allowed or refused.", _REFUSED, default=_REFUSED
    )

    @property
    def filled(self) -> str:
        """The tank filled."""
        return self.tank

    @property
    def implied(self) -> tuple[str, ...]:
        """That the tank is filled, where the mission may not go on with less."""
        return () if self.partly == _ALLOWED else (f"filling of {self.name}",)

    def check(self, walk: Walk) -> None:
        """Check that the tank exists, is not left behind and has a load, and that the campaign ends."""
        tank = walk.tank("tank", self.tank)
        walk.kept("tank", self.tank)
        if tank is not None and tank.load is None:
            message = f"Nothing says how much {self.tank} is filled up to."
            walk.refuse("tank", "missing-key", message, 'Give the tank its load, such as "load: 50 t".')
        if self.deadline is None and self.arrives != 1.0:
            message = "Flights may fail to arrive, and nothing says how long the campaign may last."
            walk.refuse("", "no-deadline", message, 'Write "deadline: 60 d".')
        if self.flights + self.spare > _MOST_FLIGHTS:
            message = f"There are {self.flights + self.spare:g} flights with the spare ones."
            walk.refuse("spare", "too-large", message, f"Keep them within {_MOST_FLIGHTS}.")

    def bind(self, numbers: Numbers) -> vehicle.Refuel:
        """Make the leg that is flown."""
        count = int(self.flights + self.spare)
        intervals = _one_each(numbers, self.every, "every", count)
        delivered = _one_each(numbers, self.delivered, "delivered", count)
        arrives = numbers.at(self.arrives, "arrives")
        arrivals = (
            [None] * count
            if arrives == 1.0
            else [numbers.drawn(f"arrives#{k}", Uniform(0.0, 1.0)) for k in range(1, count + 1)]
        )
        flights = tuple(map(vehicle.TankerFlight, intervals, delivered, arrivals))
        return vehicle.Refuel(self.name, self.tank, flights, arrives, numbers.optional(self.deadline, "deadline"))

    def bind_implied(self, numbers: Numbers) -> tuple[vehicle.Requirement, ...]:  # noqa: ARG002 - nothing in it is a number
        """Make the requirement that the tank is filled."""
        return tuple(vehicle.Filled(name, self.name, self.tank) for name in self.implied)


def _one_each(numbers: Numbers, value: Value, step: str, count: int) -> list[vehicle.Number]:
    """Draw a number anew for each flight; what is fixed, known or not, is one number for all."""
    if not isinstance(value, Dispersion) or value.knowledge:
        return [numbers.at(value, step)] * count
    if value.note is not None:
        numbers.notes.append(f"{numbers.base}{step} {value.note}.")
    return [numbers.drawn(f"{step}#{k}", value.law) for k in range(1, count + 1)]


class FlightsRecord(RequirementRecord):
    """A tanker campaign takes at most so many flights."""

    KIND = "flights"
    flights: Reference = field("The refuelling leg.", "fill at the depot")
    at_most: Annotated[Value, Quantity(RATIO, AT_LEAST_ZERO)] = field("The most flights it may take.", "5")

    def check(self, walk: Walk) -> None:
        """Check that the leg exists and is a campaign."""
        check_leg("flights", self.flights, RefuelRecord, walk)

    def bind(self, name: str, numbers: Numbers) -> vehicle.FlightsUsed:
        """Make the requirement that is judged."""
        return vehicle.FlightsUsed(name, self.flights, numbers.at(self.at_most, "at_most"))
