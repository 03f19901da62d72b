"""The requirement on a radiator, as a study writes it."""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import AfterValidator, WithJsonSchema

from leadline import vehicle
from leadline.physics.radiator import COATINGS, ENVIRONMENTS, Coating
from leadline.study.bounds import ABOVE_ZERO, Bounds
from leadline.study.model_numbers import Quantity, Value
from leadline.study.numbers import Numbers
from leadline.study.pydantic_errors import carried
from leadline.study.record import Record, Reference, field
from leadline.study.requirement_record import RequirementRecord
from leadline.study.suggest import meant, shortened
from leadline.study.walk import Walk
from leadline.units import AREA, FRACTION, POWER, TEMPERATURE

__all__ = ["AGES", "RadiatorRecord", "RejectsRecord", "in_words"]

_SHARE: Final = Bounds(0.0, 1.0)


def in_words(environment: str) -> str:
    """Name an environment without commas, which would cut a mapping on one line."""
    place, *states = environment.split(", ")
    joined = {"noon": "at noon", "night": "at night", "full sun": "in full sun"}
    return " ".join((place, *(joined.get(state, state) for state in states)))


_PLACES: Final = {in_words(name): name for name in ENVIRONMENTS}
AGES: Final = {"new": "beginning of life", "worn": "end of life"}


def _place(given: str) -> str:
    if given in _PLACES:
        return given
    raise carried(
        "unknown-word", f'"{shortened(given)}" is no known environment.', meant(given, _PLACES, "Environments")
    )


def _age(given: str | None) -> str | None:
    if given is None or given in AGES:
        return given
    message = f'"{shortened(given)}" is no age of a white coating.'
    raise carried("unknown-word", message, meant(given, AGES, "Ages"))


class RadiatorRecord(Record):
    """A flat radiator and where it works."""

    area: Annotated[Value, Quantity(AREA, ABOVE_ZERO)] = field("Radiating area, when open.", "22 m2")
    temperature: Annotated[Value, Quantity(TEMPERATURE, ABOVE_ZERO)] = field("Its temperature.", "280 K")
    environment: Annotated[str, AfterValidator(_place), WithJsonSchema({"enum": [*_PLACES]})] = field(
        "Where it works; edge-on to the sun and at right angles to the ground unless it says otherwise.",
        "low lunar orbit at noon",
    )
    white: Annotated[str | None, AfterValidator(_age), WithJsonSchema({"enum": [*AGES]})] = field(
        "The age of a white coating, new or worn; in the place of absorptance and emittance.", "worn", default=None
    )
    absorptance: Annotated[Value | None, Quantity(FRACTION, _SHARE)] = field(
        "Share of sunlight it takes in.", "0.2", default=None
    )
    emittance: Annotated[Value | None, Quantity(FRACTION, _SHARE)] = field("Infrared emittance.", "0.85", default=None)
    open: Annotated[Value, Quantity(FRACTION, _SHARE)] = field(
        "Share of the area that sees space: 100 % open, 0 % stowed.", "100 %", default=1.0
    )

    @property
    def stated(self) -> list[str]:
        """What it says itself of its face."""
        return [name for name in ("absorptance", "emittance") if getattr(self, name) is not None]


class RejectsRecord(RequirementRecord):
    """A radiator gets rid of at least so much heat; looked at before the first leg unless after another."""

    KIND = "rejects"
    rejects: RadiatorRecord = field(
        "The radiator.",
        "{area: 22 m2, temperature: 280 K, environment: low lunar orbit at noon, white: worn}",
    )
    at_least: Annotated[Value, Quantity(POWER)] = field("The heat it must get rid of.", "3.2 kW")
    after: Reference | None = field(
        "The leg after which it must hold; before the first leg if left out.", "capture", default=None
    )

    def check(self, walk: Walk) -> None:
        """Check that the leg exists and that it is said once what the face takes in and gives off."""
        if self.after is not None:
            walk.leg("after", self.after)
        stated = self.rejects.stated
        if self.rejects.white is not None and stated:
            message = f"A white coating is named, and {' and '.join(stated)} given too."
            walk.refuse("rejects.white", "twice", message, "Keep white, or absorptance and emittance.")
        if self.rejects.white is None and len(stated) < 2:
            message = "Nothing says what its face takes in and gives off."
            walk.refuse("rejects", "missing-key", message, 'Write "white: worn", or absorptance and emittance.')

    def bind(self, name: str, numbers: Numbers) -> vehicle.HeatRejected:
        """Make the requirement that is judged."""
        radiator, inside = self.rejects, numbers.under("rejects")
        absorptance, emittance = self._face(inside)
        return vehicle.HeatRejected(
            name,
            inside.at(radiator.area, "area"),
            inside.at(radiator.temperature, "temperature"),
            absorptance,
            emittance,
            _PLACES[radiator.environment],
            numbers.at(self.at_least, "at_least"),
            inside.at(radiator.open, "open"),
            self.after,
        )

    def _face(self, numbers: Numbers) -> tuple[vehicle.Number, vehicle.Number]:
        radiator = self.rejects
        if radiator.white is not None:
            coating = COATINGS[AGES[radiator.white]]
            numbers.notes.append(_remark(numbers.base, radiator.white, coating))
            return float(coating.solar_absorptance), float(coating.infrared_emittance)
        return numbers.at(radiator.absorptance or 0.0, "absorptance"), numbers.at(
            radiator.emittance or 0.0, "emittance"
        )


def _remark(base: str, age: str, coating: Coating) -> str:
    values = f"absorptance {coating.solar_absorptance:g} and emittance {coating.infrared_emittance:g}"
    return f"{base}white: {age} means {values}. {coating.source}."
