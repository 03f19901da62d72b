"""How large a tank is, how it is wrapped and what it weighs, as a study writes it."""

from __future__ import annotations

from typing import Annotated, Final, Self

from pydantic import model_validator

from leadline.sampling import Lognormal
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO
from leadline.study.dispersion import Dispersion
from leadline.study.model_liquid_numbers import Heat, PerEnvironment
from leadline.study.model_numbers import Quantity, Value
from leadline.study.pydantic_errors import carried
from leadline.study.record import Record, field
from leadline.units import AREA, HEAT_FLUX, LENGTH, RATIO
from leadline.vehicle import Role

__all__ = [
    "REGRESSION_SCATTER",
    "BlanketRecord",
    "InsulationRecord",
    "RoundedRecord",
    "ShapeRecord",
    "TankMassRecord",
]

_FLUX: Final = PerEnvironment(Quantity(HEAT_FLUX, AT_LEAST_ZERO))


def _one_way(whole: tuple[object, ...], each: tuple[object, object], what: str, example: str) -> None:
    """Refuse a mapping that speaks both of the whole tank and of each liquid, or of neither.

    The first of `whole` is what the whole cannot do without.
    """
    split = any(one is not None for one in each)
    if (split and any(one is not None for one in whole)) or (not split and whole[0] is None):
        message = f"Say either one {what}, or one for each liquid."
        raise carried("per-liquid", message, f"Write {example}, or {{oxidiser: {example}, fuel: {example}}}.")


class RoundedRecord(Record):
    """A cylinder closed by two domes; a sphere where it has no length."""

    radius: Annotated[Value, Quantity(LENGTH, ABOVE_ZERO)] = field("Inner radius of the cylinder.", "1.5 m")
    length: Annotated[Value | None, Quantity(LENGTH, AT_LEAST_ZERO)] = field(
        "Length of the cylinder between the domes; none if left out.", "3 m", default=None
    )
    dome: Annotated[Value | None, Quantity(LENGTH, ABOVE_ZERO)] = field(
        "Height of each dome, at most the radius; half a sphere if left out.", "1.06 m", default=None
    )


class ShapeRecord(Record):
    """The shape of a tank, or of each liquid's part of it."""

    radius: Annotated[Value | None, Quantity(LENGTH, ABOVE_ZERO)] = field(
        "Inner radius of the cylinder.", "1.5 m", default=None
    )
    length: Annotated[Value | None, Quantity(LENGTH, AT_LEAST_ZERO)] = field(
        "Length of the cylinder between the domes; none if left out.", "3 m", default=None
    )
    dome: Annotated[Value | None, Quantity(LENGTH, ABOVE_ZERO)] = field(
        "Height of each dome, at most the radius; half a sphere if left out.", "1.06 m", default=None
    )
    oxidiser: RoundedRecord | None = field("The oxidiser's own tank.", "{radius: 1.2 m, length: 0.4 m}", default=None)
    fuel: RoundedRecord | None = field("The fuel's own tank.", "{radius: 1.5 m, length: 3 m}", default=None)

    @model_validator(mode="after")
    def _whole_or_each(self) -> Self:
        _one_way(
            (self.radius, self.length, self.dome), (self.oxidiser, self.fuel), "shape", "{radius: 1.5 m, length: 3 m}"
        )
        return self

    @property
    def whole(self) -> RoundedRecord | None:
        """The shape of the tank as a whole; None where each liquid has its own."""
        if self.radius is None:
            return None
        return RoundedRecord.model_construct(radius=self.radius, length=self.length, dome=self.dome)

    def own(self, role: Role) -> RoundedRecord | None:
        """Give the shape of one liquid's own tank."""
        return self.oxidiser if role is Role.OXIDISER else self.fuel


class BlanketRecord(Record):
    """What heat comes through each square metre of a tank, and how many there are."""

    flux: Annotated[Heat, _FLUX] = field("Heat through a square metre.", "0.5 W/m2")
    area: Annotated[Value | None, Quantity(AREA, ABOVE_ZERO)] = field(
        "Outer area; that of the shape if left out.", "51 m2", default=None
    )


class InsulationRecord(Record):
    """The insulation of a tank with one liquid, or of each liquid's part."""

    flux: Annotated[Heat | None, _FLUX] = field("Heat through a square metre.", "0.5 W/m2", default=None)
    area: Annotated[Value | None, Quantity(AREA, ABOVE_ZERO)] = field(
        "Outer area; that of the shape if left out.", "51 m2", default=None
    )
    oxidiser: BlanketRecord | None = field("About the oxidiser.", "{flux: 0.4 W/m2, area: 22 m2}", default=None)
    fuel: BlanketRecord | None = field("About the fuel.", "{flux: 0.5 W/m2, area: 51 m2}", default=None)

    @model_validator(mode="after")
    def _whole_or_each(self) -> Self:
        _one_way((self.flux, self.area), (self.oxidiser, self.fuel), "insulation", "{flux: 0.5 W/m2, area: 51 m2}")
        return self

    def about(self, role: Role) -> BlanketRecord | None:
        """Give what is about one liquid; the whole for a monopropellant."""
        if self.flux is not None:
            return BlanketRecord.model_construct(flux=self.flux, area=self.area)
        return self.oxidiser if role is Role.OXIDISER else self.fuel


REGRESSION_SCATTER: Final = Dispersion("lognormal", {"median": 1.0, "spread": 1.15}, Lognormal(1.0, 1.15))
"""How far tanks of one size differ in mass; 10 to 20 % is trade practice, no source."""


class TankMassRecord(Record):
    """A tank whose mass follows from its size."""

    scatter: Annotated[Value, Quantity(RATIO, ABOVE_ZERO)] = field(
        "Factor on what the regression gives.", "{median: 1, spread: 1.15}", default=REGRESSION_SCATTER
    )
