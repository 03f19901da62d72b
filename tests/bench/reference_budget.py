"""The reference budget: 4 burns, 3 coasts, 13 normal dispersions.

A ferry with one hydrogen-oxygen tank goes out, captures, leaves and comes home. The
numbers are invented.
"""

from __future__ import annotations

from leadline.physics.propellants import PROPELLANTS
from leadline.sampling import Input, Normal
from leadline.vehicle import (
    Burn,
    Coast,
    Column,
    DeltaVLeft,
    Element,
    Engine,
    Liquid,
    Measure,
    Mission,
    PropellantLeft,
    Role,
    StackMass,
    Supply,
    Tank,
    TankFill,
)

__all__ = ["INPUTS", "reference_mission"]

INPUTS = (
    Input("vehicle.ferry.dry_mass", Normal(18_400.0, 500.0)),
    Input("vehicle.ferry.engines.main.isp", Normal(447.0, 1.6)),
    Input("vehicle.ferry.engines.main.mixture_ratio", Normal(5.9, 0.04)),
    Input("vehicle.ferry.tanks.main.load", Normal(54_000.0, 150.0)),
    Input("vehicle.ferry.tanks.main.heat_leak.oxidiser", Normal(90.0, 12.0)),
    Input("vehicle.ferry.tanks.main.heat_leak.fuel", Normal(180.0, 25.0)),
    Input("legs.departure.cost", Normal(3_120.0, 12.0)),
    Input("legs.capture.cost", Normal(300.0, 8.0)),
    Input("legs.escape.cost", Normal(310.0, 8.0)),
    Input("legs.return.cost", Normal(900.0, 15.0)),
    Input("legs.outbound.lasts", Normal(345_600.0, 9_000.0)),
    Input("legs.stay.lasts", Normal(432_000.0, 20_000.0)),
    Input("legs.homebound.lasts", Normal(345_600.0, 9_000.0)),
)


def reference_mission() -> Mission:
    """Build the mission whose columns follow `INPUTS`."""
    column = {item.name: Column(i, item.name) for i, item in enumerate(INPUTS)}
    data = PROPELLANTS["lox-lh2"]
    assert data.oxidiser is not None
    leak = "vehicle.ferry.tanks.main.heat_leak"
    liquids = tuple(
        Liquid(
            role,
            liquid.name,
            liquid.density_kg_m3,
            vent_heat_j_kg=liquid.vent_heat_j_kg,
            heat_leak_w=column[f"{leak}.{role.value}"],
        )
        for role, liquid in ((Role.OXIDISER, data.oxidiser), (Role.FUEL, data.fuel))
    )
    tank = Tank(
        "ferry.main",
        "lox-lh2",
        liquids,
        load_kg=column["vehicle.ferry.tanks.main.load"],
        load_ratio=5.9,
        volume_m3=170.0,
        ullage=0.04,
        unusable=0.01,
    )
    engine = Engine(
        "ferry.main",
        isp_s=column["vehicle.ferry.engines.main.isp"],
        mixture_ratio=column["vehicle.ferry.engines.main.mixture_ratio"],
    )
    ferry = Element("ferry", column["vehicle.ferry.dry_mass"], (engine,), (tank,))

    def burn(name: str) -> Burn:
        return Burn(name, "ferry.main", "ferry.main", column[f"legs.{name}.cost"])

    def coast(name: str) -> Coast:
        return Coast(name, column[f"legs.{name}.lasts"])

    legs = (
        burn("departure"),
        coast("outbound"),
        burn("capture"),
        coast("stay"),
        burn("escape"),
        coast("homebound"),
        burn("return"),
    )
    requirements = (
        PropellantLeft("reserve", "ferry.main", 900.0, Measure.BURNABLE, "return"),
        DeltaVLeft("manoeuvre", "ferry.main", "ferry.main", 100.0, "escape"),
        TankFill("fits", "ferry.main"),
        StackMass("docking mass", 25_000.0, "return"),
        Supply("supply of ferry.main", "ferry.main"),
    )
    return Mission("reference budget", (ferry,), legs, requirements)
