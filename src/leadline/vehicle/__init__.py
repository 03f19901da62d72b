"""The nouns of a mission: elements, tanks, engines, legs, requirements.

Every number is SI and is a plain float, or a `Column`, the place in a block of draws where
the number is read for each case, or a `Formula` of such numbers. Nothing here computes.
"""

from __future__ import annotations

from leadline.vehicle.burn_requirements import BeltTime, BurnLoss, Completion, Ignition
from leadline.vehicle.burns import BeltShell, FiniteBurn, Steering
from leadline.vehicle.legs import (
    Burn,
    Coast,
    Dock,
    Drop,
    Entry,
    Leg,
    Load,
    LowOrbitEntry,
    Refuel,
    TankerFlight,
    Transfer,
    Undock,
)
from leadline.vehicle.mission import Mission
from leadline.vehicle.numbers import Column, Formula, Number
from leadline.vehicle.parts import Element, Engine, Environment, Liquid, Role, Tank
from leadline.vehicle.requirements import (
    BallisticRange,
    BurnTime,
    Capture,
    Deceleration,
    DeltaVLeft,
    ElapsedTime,
    Filled,
    FlightsUsed,
    Heating,
    HeatLoad,
    HeatRejected,
    LiftedMass,
    Measure,
    PeakHeating,
    PropellantLeft,
    Requirement,
    StackMass,
    Supply,
    TankFill,
    VentRoom,
)

__all__ = [
    "BallisticRange",
    "BeltShell",
    "BeltTime",
    "Burn",
    "BurnLoss",
    "BurnTime",
    "Capture",
    "Coast",
    "Column",
    "Completion",
    "Deceleration",
    "DeltaVLeft",
    "Dock",
    "Drop",
    "ElapsedTime",
    "Element",
    "Engine",
    "Entry",
    "Environment",
    "Filled",
    "FiniteBurn",
    "FlightsUsed",
    "Formula",
    "HeatLoad",
    "HeatRejected",
    "Heating",
    "Ignition",
    "Leg",
    "LiftedMass",
    "Liquid",
    "Load",
    "LowOrbitEntry",
    "Measure",
    "Mission",
    "Number",
    "PeakHeating",
    "PropellantLeft",
    "Refuel",
    "Requirement",
    "Role",
    "StackMass",
    "Steering",
    "Supply",
    "Tank",
    "TankFill",
    "TankerFlight",
    "Transfer",
    "Undock",
    "VentRoom",
]
