"""Small missions for the budget tests; all numbers invented."""

from __future__ import annotations

from leadline.vehicle import (
    Burn,
    Coast,
    DeltaVLeft,
    Element,
    Engine,
    Leg,
    Liquid,
    Mission,
    Number,
    PropellantLeft,
    Requirement,
    Role,
    Supply,
    Tank,
)

__all__ = ["ENGINE", "TANK", "ferry_mission", "storable_tank"]

ENGINE = "ferry.main"
TANK = "ferry.hold"


def storable_tank(name: str = TANK, load_kg: Number = 8_000.0, *, boil_off_per_s: Number | None = None) -> Tank:
    """Build a two-liquid tank loaded at a ratio of 1.65."""
    liquids = (
        Liquid(Role.OXIDISER, "nitrogen tetroxide", 1441.44, boil_off_per_s=boil_off_per_s),
        Liquid(Role.FUEL, "monomethylhydrazine", 879.84, boil_off_per_s=boil_off_per_s),
    )
    return Tank(name, "n2o4-mmh", liquids, load_kg=load_kg, load_ratio=1.65, volume_m3=8.0)


def ferry_mission(
    legs: tuple[Leg, ...] | None = None,
    requirements: tuple[Requirement, ...] | None = None,
    *,
    tank: Tank | None = None,
    engine: Engine | None = None,
    dry_mass_kg: Number = 10_000.0,
    others: tuple[Element, ...] = (),
    apart: frozenset[str] = frozenset(),
) -> Mission:
    """Build a ferry with one engine and one tank that burns, coasts and burns again."""
    tank = storable_tank() if tank is None else tank
    engine = engine or Engine(ENGINE, 316.0, thrust_n=30_000.0, mixture_ratio=1.65)
    ferry = Element("ferry", dry_mass_kg, (engine,), (tank,))
    if legs is None:
        legs = (
            Burn("out", ENGINE, TANK, 900.0),
            Coast("wait", 86_400.0),
            Burn("back", ENGINE, TANK, 700.0),
        )
    if requirements is None:
        requirements = (
            PropellantLeft("reserve", TANK, 100.0),
            DeltaVLeft("in hand", ENGINE, TANK, 50.0),
            Supply("supply of ferry.hold", TANK),
        )
    return Mission("a ferry", (ferry, *others), legs, requirements, apart)
