"""Propellant combinations as a study knows them: those built in, and those it defines itself."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Final, Self

from pydantic import AfterValidator, model_validator

from leadline.physics.cryogens import CRYOGENS, Cryogen
from leadline.physics.propellants import LIQUIDS, PROPELLANTS, LiquidProperties
from leadline.study.bounds import ABOVE_ZERO
from leadline.study.model_numbers import Quantity, Value
from leadline.study.pydantic_errors import carried
from leadline.study.record import Name, Record, field
from leadline.study.suggest import listed, shortened
from leadline.units import DENSITY, RATIO, SPECIFIC_ENERGY
from leadline.vehicle import Role

__all__ = ["BUILT_IN", "LiquidRecord", "OwnName", "PropellantRecord"]


class LiquidRecord(Record):
    """One liquid of a propellant combination."""

    name: Name = field("What it is called; a liquid known by its name needs no more.", "hydrogen peroxide")
    density: Annotated[Value | None, Quantity(DENSITY, ABOVE_ZERO)] = field(
        "Density in the tank.", "1390 kg/m3", default=None
    )
    vent_heat: Annotated[Value | None, Quantity(SPECIFIC_ENERGY, ABOVE_ZERO)] = field(
        "Heat that boils a kilogram away; left out for a liquid that does not boil off.", "450 kJ/kg", default=None
    )

    @model_validator(mode="after")
    def _weighs_something(self) -> Self:
        if self.density is None and self.name not in LIQUIDS:
            message = f'Nothing says how dense "{shortened(self.name)}" is.'
            known = listed(LIQUIDS)
            raise carried("missing-key", message, f'Write its density, such as "density: 1390 kg/m3". Known: {known}.')
        return self

    @property
    def known(self) -> LiquidProperties | None:
        """What is known of a liquid of this name."""
        return LIQUIDS.get(self.name)

    @property
    def boils(self) -> bool:
        """Whether heat boils it away in a mission."""
        return self.vent_heat is not None or (self.known is not None and self.known.vent_heat_j_kg is not None)

    @property
    def table(self) -> Cryogen | None:
        """Its saturation line, unless the study gives numbers of its own."""
        return CRYOGENS.get(self.name) if self.density is None and self.vent_heat is None else None


class PropellantRecord(Record):
    """A propellant combination: an oxidiser and a fuel, or a fuel alone."""

    oxidiser: LiquidRecord | None = field(
        "The oxidiser; left out for a monopropellant.", "{name: hydrogen peroxide, density: 1390 kg/m3}", default=None
    )
    fuel: LiquidRecord = field("The fuel.", "{name: kerosene}")
    mixture_ratio: Annotated[float | None, Quantity(RATIO, ABOVE_ZERO, fixed=True)] = field(
        "A usual oxidiser-to-fuel ratio by mass, for a tank that feeds no engine.", "7.1", default=None
    )

    @model_validator(mode="after")
    def _ratio_fits(self) -> Self:
        if self.oxidiser is None and self.mixture_ratio is not None:
            message = "A fuel alone has no mixture ratio."
            raise carried("mixture-ratio", message, "Take mixture_ratio out, or give the oxidiser.")
        if self.oxidiser is not None and self.mixture_ratio is None:
            message = "An oxidiser and a fuel need a usual mixture ratio."
            raise carried("mixture-ratio", message, 'Write it, such as "mixture_ratio: 7.1".')
        return self

    @property
    def roles(self) -> tuple[Role, ...]:
        """Its liquids in their order."""
        return (Role.FUEL,) if self.oxidiser is None else (Role.OXIDISER, Role.FUEL)

    def liquid(self, role: Role) -> LiquidRecord:
        """Give one of its liquids; the fuel where it has no oxidiser."""
        return self.oxidiser if role is Role.OXIDISER and self.oxidiser is not None else self.fuel


def _built_in(key: str) -> PropellantRecord:
    combination = PROPELLANTS[key]
    oxidiser = None if combination.oxidiser is None else LiquidRecord(name=combination.oxidiser.name)
    fuel, ratio = LiquidRecord(name=combination.fuel.name), combination.mixture_ratio
    if ratio is None:
        return PropellantRecord(fuel=fuel)
    return PropellantRecord(oxidiser=oxidiser, fuel=fuel, mixture_ratio=ratio)


BUILT_IN: Final[Mapping[str, PropellantRecord]] = MappingProxyType({key: _built_in(key) for key in PROPELLANTS})
"""The combinations that every study knows."""


def _own(given: str) -> str:
    if given in BUILT_IN:
        raise carried("twice", f"{given} is built in.", "Give your propellant another name.")
    return given


OwnName = Annotated[Name, AfterValidator(_own)]
"""The name of a propellant that a study defines."""
