"""The nouns of a mission: elements, tanks, engines, legs, requirements.

Every number is SI and is a plain float, or a `Column`, the place in a block of draws where
the number is read for each case, or a `Formula` of such numbers. Nothing here computes.
"""

from __future__ import annotations

from leadline.vehicle.legs import Burn, Coast, Dock, Drop, Leg, Load, Transfer, Undock
from leadline.vehicle.mission import Mission
from leadline.vehicle.numbers import Column, Formula, Number
from leadline.vehicle.parts import Element, Engine, Liquid, Role, Tank
from leadline.vehicle.requirements import (
    BurnTime,
    DeltaVLeft,
    ElapsedTime,
    LiftedMass,
    Measure,
    PropellantLeft,
    Requirement,
    StackMass,
    Supply,
    TankFill,
)

__all__ = [
    "Burn",
    "BurnTime",
    "Coast",
    "Column",
    "DeltaVLeft",
    "Dock",
    "Drop",
    "ElapsedTime",
    "Element",
    "Engine",
    "Formula",
    "Leg",
    "LiftedMass",
    "Liquid",
    "Load",
    "Measure",
    "Mission",
    "Number",
    "PropellantLeft",
    "Requirement",
    "Role",
    "StackMass",
    "Supply",
    "Tank",
    "TankFill",
    "Transfer",
    "Undock",
]
