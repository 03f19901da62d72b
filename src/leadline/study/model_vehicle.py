"""The vehicle as a study writes it: elements with engines and tanks."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field

from leadline.physics.propellants import PROPELLANTS
from leadline.study import limits
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO, PART_OF_ONE
from leadline.study.model_numbers import LiquidValues, PerLiquid, Quantity, Value
from leadline.study.pydantic_errors import carried
from leadline.study.record import Name, Record, field
from leadline.study.suggest import meant, shortened
from leadline.units import FORCE, FRACTION, MASS, POWER, RATE, RATIO, SPECIFIC_IMPULSE, VOLUME

__all__ = ["ElementRecord", "EngineRecord", "TankRecord"]


def _known_propellant(given: str) -> str:
    if given not in PROPELLANTS:
        message = f'"{shortened(given)}" is no propellant known.'
        raise carried("unknown-propellant", message, meant(given, PROPELLANTS, "Propellants"))
    return given


class EngineRecord(Record):
    """An engine of an element."""

    isp: Annotated[Value, Quantity(SPECIFIC_IMPULSE, ABOVE_ZERO)] = field("Specific impulse in vacuum.", "447 s")
    thrust: Annotated[Value | None, Quantity(FORCE, ABOVE_ZERO)] = field(
        "Thrust in vacuum; needed where burn times are asked for.", "66 kN", default=None
    )
    mixture_ratio: Annotated[Value | None, Quantity(RATIO, ABOVE_ZERO)] = field(
        "Oxidiser over fuel by mass; left out for a monopropellant.", "5.9", default=None
    )
    start_loss: Annotated[Value, Quantity(MASS, AT_LEAST_ZERO)] = field(
        "Propellant lost before each burn without giving velocity.", "25 kg", default=0.0
    )
    stop_loss: Annotated[Value, Quantity(MASS, AT_LEAST_ZERO)] = field(
        "Propellant lost after each burn without giving velocity.", "10 kg", default=0.0
    )


class TankRecord(Record):
    """A tank of an element, for one propellant combination."""

    propellant: Annotated[
        str, AfterValidator(_known_propellant), Field(json_schema_extra={"enum": list(PROPELLANTS)})
    ] = field("Propellant combination.", "lox-lh2")
    load: Annotated[Value | None, Quantity(MASS, AT_LEAST_ZERO)] = field(
        "What it carries when full for the mission, both liquids together; "
        "in place at the start, unless a load leg fills it.",
        "50 t",
        default=None,
    )
    load_ratio: Annotated[Value | None, Quantity(RATIO, ABOVE_ZERO)] = field(
        "Mixture ratio it is loaded at; that of the first engine that burns from it, at its median, if left out.",
        "5.9",
        default=None,
    )
    volume: Annotated[Value | None, Quantity(VOLUME, ABOVE_ZERO)] = field(
        "Inner volume; needed where its fill is asked for.", "170 m3", default=None
    )
    ullage: Annotated[Value, Quantity(FRACTION, PART_OF_ONE)] = field(
        "Share of the volume kept free of liquid.", "4 %", default=0.0
    )
    unusable: Annotated[Value, Quantity(FRACTION, PART_OF_ONE)] = field(
        "Share of each liquid loaded that cannot be burned.", "1 %", default=0.0
    )
    boil_off: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(RATE, AT_LEAST_ZERO))] = field(
        "Share of each liquid's contents lost in a time.", "{oxidiser: 0.1 %/d, fuel: 0.5 %/d}", default=None
    )
    heat_leak: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(POWER, AT_LEAST_ZERO))] = field(
        "Heat that reaches each liquid and boils it away.", "{oxidiser: 60 W, fuel: 180 W}", default=None
    )

    @property
    def has_oxidiser(self) -> bool:
        """Whether it holds two liquids."""
        return PROPELLANTS[self.propellant].oxidiser is not None


class ElementRecord(Record):
    """A piece of the vehicle with its own dry mass."""

    dry_mass: Annotated[Value, Quantity(MASS, ABOVE_ZERO)] = field("Mass without propellant.", "18.4 t")
    engines: dict[Name, EngineRecord] = field(
        "Its engines by name.", "{main: {isp: 447 s}}", default={}, max_length=limits.PARTS_PER_ELEMENT
    )
    tanks: dict[Name, TankRecord] = field(
        "Its tanks by name.",
        "{main: {propellant: lox-lh2, load: 50 t}}",
        default={},
        max_length=limits.PARTS_PER_ELEMENT,
    )
