"""A tank bound to a mission: its size, its liquids and what reaches them, as numbers."""

from __future__ import annotations

from dataclasses import dataclass

from leadline import vehicle
from leadline.errors import Issue
from leadline.study.bounds import Bounds
from leadline.study.liquid_values import CONDITIONS, Heated, heat_of, range_of, rounded_of, said, within
from leadline.study.model_liquid_numbers import EnvironmentValues
from leadline.study.model_numbers import LiquidValues, Value
from leadline.study.model_tank import TankRecord
from leadline.study.model_tank_size import REGRESSION_SCATTER, RoundedRecord
from leadline.study.numbers import Numbers
from leadline.vehicle import Column, Environment, Formula, Liquid, Number, Role

__all__ = ["bind_tank"]


def bind_tank(name: str, tank: TankRecord, numbers: Numbers) -> vehicle.Tank:
    """Make the tank that is flown.

    Parameters
    ----------
    name
        As ``element.tank``.
    tank
        What the study says, checked.
    numbers
        Names and columns within the tank.
    """
    binder = _Binder(name, tank, numbers)
    return vehicle.Tank(
        name,
        tank.propellant,
        load_kg=numbers.at(0.0 if tank.load is None else tank.load, "load"),
        load_ratio=numbers.optional(tank.load_ratio, "load_ratio"),
        volume_m3=binder.shared_volume(),
        ullage=numbers.at(tank.ullage, "ullage"),
        unusable=numbers.at(tank.unusable, "unusable"),
        liquids=tuple(binder.liquid(role) for role in tank.combination.roles),
        mass_kg=binder.mass(),
    )


@dataclass(frozen=True, slots=True)
class _Binder:
    """Makes the numbers of one tank, each of them once."""

    name: str
    tank: TankRecord
    numbers: Numbers

    def once(self, value: Value, step: str, numbers: Numbers | None = None) -> Number:
        """Make a number, or give it again where it has been made."""
        numbers = self.numbers if numbers is None else numbers
        name = numbers.base + step
        for index, known in enumerate(numbers.inputs):
            if known.name == name:
                return Column(index, name)
        return value if isinstance(value, float) and name in numbers.fixed else numbers.at(value, step)

    def liquid(self, role: Role) -> Liquid:
        """Make one liquid."""
        density = self._density(role)
        rate, heat = said(self.tank, "boil_off", role), heat_of(self.tank, role)
        leaks = () if heat is None else self._leaks(role, heat)
        everywhere = leaks[0][1] if len(leaks) == 1 and leaks[0][0] is None else None
        return Liquid(
            role,
            self.tank.combination.liquid(role).name,
            density,
            vent_heat_j_kg=None if heat is None else self._vent_heat(role),
            boil_off_per_s=None if rate is None else self.once(rate.value, rate.step),
            heat_leak_w=everywhere,
            heat_leaks_w=tuple((where, leak) for where, leak in leaks if where is not None),
            volume_m3=self._own_volume(role),
            vent_density_kg_m3=self._at(("vents_at",), role, "density"),
        )

    def shared_volume(self) -> Number | None:
        """Make the volume of the tank as a whole; None where each liquid has its own or none is given."""
        whole = None if self.tank.shape is None else self.tank.shape.whole
        if whole is not None:
            return Formula("tank_volume", self._measures(whole, "shape"))
        volume = self.tank.volume
        return None if volume is None or isinstance(volume, LiquidValues) else self.once(volume, "volume")

    def mass(self) -> Number | None:
        """Make what the tank weighs by its size; None where that is in the element's dry mass."""
        record = self.tank.tank_mass
        if record is None:
            return None
        if record.scatter == REGRESSION_SCATTER:
            self.numbers.notes.append(
                f"{self.name} weighs what a regression gives for its size times a factor whose spread of 1.15 is"
                " trade practice, no source."
            )
        scatter = self.once(record.scatter, "tank_mass.scatter")
        if self.tank.has_oxidiser and (shared := self.shared_volume()) is not None:
            return Formula("tank_mass.storable", (shared, 0.0, scatter))  # no other liquids may share a sized tank
        shells = tuple(self._shell(role, scatter) for role in self.tank.combination.roles)
        return shells[0] if len(shells) == 1 else Formula("total", shells)

    def _shell(self, role: Role, scatter: Number) -> Number:
        liquid, own = self.tank.combination.liquid(role), self._own_volume(role)
        volume = own or self.shared_volume() or 0.0
        if not liquid.boils:
            return Formula("tank_mass.storable", (volume, 0.0, scatter))
        kind = "hydrogen" if liquid.name == "hydrogen" else "cryogen"
        return Formula(f"tank_mass.{kind}", (volume, self._area(role), scatter))

    def _own_volume(self, role: Role) -> Number | None:
        own = None if self.tank.shape is None else self.tank.shape.own(role)
        if own is not None:
            return Formula("tank_volume", self._measures(own, f"shape.{role.value}"))
        if not isinstance(self.tank.volume, LiquidValues):
            return None
        given = said(self.tank, "volume", role)
        return None if given is None else self.once(given.value, given.step)

    def _measures(self, shape: RoundedRecord, step: str) -> tuple[Number, ...]:
        """Make radius, length and height of the domes."""
        radius = self.once(shape.radius, f"{step}.radius")
        length = 0.0 if shape.length is None else self.once(shape.length, f"{step}.length")
        return radius, length, radius if shape.dome is None else self.once(shape.dome, f"{step}.dome")

    def _density(self, role: Role) -> Number:
        direct = said(self.tank, "density", role)
        if direct is not None:
            return self.once(direct.value, direct.step)
        tabled = self._at(("pressure", "temperature"), role, "density")
        if tabled is not None:
            return tabled
        liquid = self.tank.combination.liquid(role)
        if liquid.density is not None:
            return self.once(liquid.density, "density", self._own_propellant(role))
        return 0.0 if liquid.known is None else liquid.known.density_kg_m3

    def _vent_heat(self, role: Role) -> Number | None:
        tabled = self._at(("vents_at", "pressure", "temperature"), role, "vent_heat")
        if tabled is not None:
            return tabled
        liquid = self.tank.combination.liquid(role)
        if liquid.vent_heat is not None:
            return self.once(liquid.vent_heat, "vent_heat", self._own_propellant(role))
        return None if liquid.known is None else liquid.known.vent_heat_j_kg

    def _own_propellant(self, role: Role) -> Numbers:
        return self.numbers.within("propellants", self.tank.propellant, role.value)

    def _at(self, keys: tuple[str, ...], role: Role, what: str) -> Number | None:
        """Make what a liquid's table gives at the first of some keys that is there."""
        liquid = self.tank.combination.liquid(role)
        key = next((key for key in keys if said(self.tank, key, role) is not None), None)
        given = None if key is None else said(self.tank, key, role)
        if key is None or given is None or liquid.table is None:
            return None
        number = self.once(self._clipped(given.value, key, given.step), given.step)
        return Formula(f"{what}_at_{'temperature' if key == 'temperature' else 'pressure'}.{liquid.name}", (number,))

    def _clipped(self, value: Value, key: str, step: str) -> Value:
        """Cut a law off where it hardly leaves the table of any liquid that it holds for."""
        sharing = [role for role in self.tank.combination.roles if (s := said(self.tank, key, role)) and s.step == step]
        ranges = [r for role in sharing if (r := range_of(self.tank.combination.liquid(role), key)) is not None]
        bounds = Bounds(max(r.low for r in ranges), min(r.high for r in ranges))
        kept = within(value, bounds, CONDITIONS[key], "its liquids")
        return value if isinstance(kept, Issue) else kept  # a study refused for it is bound all the same

    def _leaks(self, role: Role, heat: Heated) -> tuple[tuple[Environment | None, Number], ...]:
        """Make the heat that boils a liquid away, everywhere or by environment."""
        if not isinstance(heat.value, EnvironmentValues):
            return ((None, self._net(role, heat, self.once(heat.value, heat.step))),)
        made = [(where, self.once(value, f"{heat.step}.{where.value}")) for where, value in heat.value.values]
        return tuple((where, self._net(role, heat, number)) for where, number in made)

    def _net(self, role: Role, heat: Heated, number: Number) -> Number:
        """Make watts of a flux, less what a refrigerator lifts."""
        if heat.spread:
            number = Formula("product", (number, self._area(role)))
        lift = said(self.tank, "refrigeration", role)
        return number if lift is None else Formula("net_heat", (number, self.once(lift.value, lift.step)))

    def _area(self, role: Role) -> Number:
        """Make the outer area about a liquid, which is known to be given."""
        blanket = None if self.tank.insulation is None else self.tank.insulation.about(role)
        if self.tank.insulation is not None and blanket is not None and blanket.area is not None:
            step = "insulation" if self.tank.insulation.flux is not None else f"insulation.{role.value}"
            return self.once(blanket.area, f"{step}.area")
        shape = rounded_of(self.tank, role)
        return 0.0 if shape is None else Formula("tank_area", self._measures(*shape))
