"""The tank as a study writes it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AfterValidator, PrivateAttr, WithJsonSchema

from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO, PART_OF_ONE
from leadline.study.model_liquid_numbers import Heat, LiquidHeats, PerEnvironment, PerLiquidHeat
from leadline.study.model_numbers import LiquidValues, PerLiquid, Quantity, Value
from leadline.study.model_propellant import BUILT_IN, PropellantRecord
from leadline.study.model_tank_size import InsulationRecord, ShapeRecord, TankMassRecord
from leadline.study.propellant_names import known_propellant, propellant_named
from leadline.study.record import Record, field
from leadline.units import DENSITY, FRACTION, MASS, POWER, PRESSURE, RATE, RATIO, TEMPERATURE, VOLUME

__all__ = ["TankRecord"]

PropellantName = Annotated[
    str,
    AfterValidator(known_propellant),
    WithJsonSchema({"anyOf": [{"enum": list(BUILT_IN)}, {"type": "string", "minLength": 1}]}),
]
"""A combination built in, or one of the study's own."""


class TankRecord(Record):
    """A tank of an element, for one propellant combination."""

    propellant: PropellantName = field("Propellant combination.", "lox-lh2")
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
    volume: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(VOLUME, ABOVE_ZERO))] = field(
        "Inner volume, for both liquids together or for each; needed where its fill is asked for.",
        "170 m3",
        default=None,
    )
    shape: ShapeRecord | None = field(
        "A cylinder with domes, which gives volume and area.", "{radius: 1.5 m, length: 3 m, dome: 1 m}", default=None
    )
    ullage: Annotated[Value, Quantity(FRACTION, PART_OF_ONE)] = field(
        "Share of the volume kept free of liquid.", "4 %", default=0.0
    )
    unusable: Annotated[Value, Quantity(FRACTION, PART_OF_ONE)] = field(
        "Share of each liquid loaded that cannot be burned.", "1 %", default=0.0
    )
    density: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(DENSITY, ABOVE_ZERO))] = field(
        "Density of each liquid as loaded.", "{oxidiser: 1440 kg/m3, fuel: 875 kg/m3}", default=None
    )
    pressure: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(PRESSURE, ABOVE_ZERO))] = field(
        "Vapour pressure at which the cryogenic liquids are loaded; 1 atm if left out.", "2 bar", default=None
    )
    temperature: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(TEMPERATURE, ABOVE_ZERO))] = field(
        "Temperature at which the cryogenic liquids are loaded, instead of a pressure.",
        "{oxidiser: 91 K, fuel: 20.5 K}",
        default=None,
    )
    boil_off: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(RATE, AT_LEAST_ZERO))] = field(
        "Share of each liquid's contents lost in a time.", "{oxidiser: 0.1 %/d, fuel: 0.5 %/d}", default=None
    )
    heat_leak: Annotated[Heat | LiquidHeats | None, PerLiquidHeat(PerEnvironment(Quantity(POWER, AT_LEAST_ZERO)))] = (
        field(
            "Heat that reaches each liquid and boils it away, everywhere or by environment.",
            "{oxidiser: 60 W, fuel: 180 W}",
            default=None,
        )
    )
    insulation: InsulationRecord | None = field(
        "Heat that reaches each liquid by the square metre, instead of heat_leak.",
        "{fuel: {flux: 0.5 W/m2, area: 51 m2}}",
        default=None,
    )
    refrigeration: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(POWER, AT_LEAST_ZERO))] = field(
        "Heat that a refrigerator lifts out of each liquid.", "{fuel: 20 W}", default=None
    )
    vents_at: Annotated[Value | LiquidValues | None, PerLiquid(Quantity(PRESSURE, ABOVE_ZERO))] = field(
        "Pressure at which a closed tank begins to vent; brings a requirement that it does so before it is full.",
        "{fuel: 2.5 bar}",
        default=None,
    )
    tank_mass: TankMassRecord | None = field(
        "Present where the tank's mass follows from its size and comes on top of the element's dry mass.",
        "{scatter: {median: 1, spread: 1.15}}",
        default=None,
    )
    _combination: PropellantRecord = PrivateAttr()

    def model_post_init(self, context: Any, /) -> None:
        """Keep what the name of the propellant stands for in the study at hand."""
        self._combination = propellant_named(self.propellant, context)

    @property
    def combination(self) -> PropellantRecord:
        """The propellant combination it holds."""
        return self._combination

    @property
    def has_oxidiser(self) -> bool:
        """Whether it holds two liquids."""
        return self.combination.oxidiser is not None

    @property
    def has_volume(self) -> bool:
        """Whether it is known how much it holds of everything in it."""
        if self.shape is not None:
            return self.shape.whole is not None or all(self.shape.own(role) for role in self.combination.roles)
        if isinstance(self.volume, LiquidValues):
            return all(getattr(self.volume, role.value) is not None for role in self.combination.roles)
        return self.volume is not None
