"""The legs of a mission, one noun for each kind."""

from __future__ import annotations

from dataclasses import dataclass

from leadline.vehicle.burns import FiniteBurn
from leadline.vehicle.numbers import Number
from leadline.vehicle.parts import Environment

__all__ = [
    "Burn",
    "Coast",
    "Dock",
    "Drop",
    "Entry",
    "Leg",
    "Load",
    "LowOrbitEntry",
    "Refuel",
    "TankerFlight",
    "Transfer",
    "Undock",
]


@dataclass(frozen=True, slots=True)
class Load:
    """Put propellant into a tank; `amount_kg` None means the tank's own load."""

    name: str
    tank: str
    amount_kg: Number | None = None


@dataclass(frozen=True, slots=True)
class Burn:
    """Give the stack a velocity change with one engine from one tank.

    `finite` None means at once. `ignitions` holds one number from 0 to 1, all equally likely, for each start whose
    engines may fail to light. `running` is how many of the engines are started, None for all.
    """

    name: str
    engine: str
    tank: str
    delta_v_m_s: Number
    finite: FiniteBurn | None = None
    ignitions: tuple[Number, ...] = ()
    running: int | None = None


@dataclass(frozen=True, slots=True)
class Coast:
    """Let time pass; every tank that still belongs to the mission boils off.

    `environment` holds from here on; None leaves it as it was.
    """

    name: str
    duration_s: Number
    environment: Environment | None = None


@dataclass(frozen=True, slots=True)
class Drop:
    """Leave an element behind for good, with whatever it holds."""

    name: str
    element: str


@dataclass(frozen=True, slots=True)
class Dock:
    """Join an element that is apart to the stack."""

    name: str
    element: str


@dataclass(frozen=True, slots=True)
class Undock:
    """Part an element from the stack; it stays in the mission and may dock again."""

    name: str
    element: str


@dataclass(frozen=True, slots=True)
class Transfer:
    """Move propellant from one tank to another; `loss` is the fraction that does not arrive."""

    name: str
    source: str
    target: str
    amount_kg: Number
    loss: Number = 0.0


@dataclass(frozen=True, slots=True)
class TankerFlight:
    """One flight of a tanker: how long after the one before it comes, and what it brings.

    It arrives where `arrival`, drawn between 0 and 1, is at most the campaign's chance of arriving;
    always where it is None.
    """

    interval_s: Number
    delivered_kg: Number
    arrival: Number | None = None


@dataclass(frozen=True, slots=True)
class Refuel:
    """Fill a tank up to its load by tanker flights, one after another, until a deadline at the latest."""

    name: str
    tank: str
    flights: tuple[TankerFlight, ...]
    arrives: Number = 1.0
    deadline_s: Number | None = None


@dataclass(frozen=True, slots=True)
class LowOrbitEntry:
    """Entry of the same vehicle from a low orbit, to compare with; angle below the horizontal."""

    speed_m_s: Number
    angle_below_rad: Number


@dataclass(frozen=True, slots=True)
class Entry:
    """Enter the Earth's air with the whole stack.

    Speed (inertial) and angle below the horizontal are those at 122 km; `turning_m_s` is how fast the
    air moves along with the flight. The ballistic coefficient is given, or follows from the
    stack's mass with `area_m2` and `drag_coefficient`. The factors multiply what the correlations give.
    """

    name: str
    speed_m_s: Number
    angle_below_rad: Number
    lift_to_drag: Number
    nose_radius_m: Number
    ballistic_coefficient_kg_m2: Number | None = None
    area_m2: Number = 1.0
    drag_coefficient: Number = 1.0
    turning_m_s: Number = 0.0
    convective_factor: Number = 1.0
    radiative_factor: Number = 1.0
    low_orbit: LowOrbitEntry | None = None


Leg = Load | Burn | Coast | Drop | Dock | Undock | Transfer | Refuel | Entry
