"""The legs of a mission, one noun for each kind."""

from __future__ import annotations

from dataclasses import dataclass

from leadline.vehicle.numbers import Number

__all__ = ["Burn", "Coast", "Dock", "Drop", "Leg", "Load", "Transfer", "Undock"]


@dataclass(frozen=True, slots=True)
class Load:
    """Put propellant into a tank; `amount_kg` None means the tank's own load."""

    name: str
    tank: str
    amount_kg: Number | None = None


@dataclass(frozen=True, slots=True)
class Burn:
    """Give the stack a velocity change with one engine from one tank."""

    name: str
    engine: str
    tank: str
    delta_v_m_s: Number


@dataclass(frozen=True, slots=True)
class Coast:
    """Let time pass; every tank that still belongs to the mission boils off."""

    name: str
    duration_s: Number


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


Leg = Load | Burn | Coast | Drop | Dock | Undock | Transfer
