"""Random missions of every kind of leg; all numbers invented."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
from hypothesis import strategies as st

from budget.missions import ENGINE, TANK, storable_tank
from leadline.budget import Ledger, compile_plan
from leadline.vehicle import (
    BeltShell,
    Burn,
    Coast,
    Dock,
    Drop,
    Element,
    Engine,
    Entry,
    Environment,
    FiniteBurn,
    Leg,
    Liquid,
    Load,
    Mission,
    Refuel,
    Role,
    StackMass,
    Tank,
    TankerFlight,
    Transfer,
    Undock,
)

__all__ = ["DAY", "KINDS", "SADDLE_TANK", "Fleet", "Voyage", "contents", "voyages"]

DAY: Final = 86_400.0
SADDLE_TANK: Final = "saddle.main"
BELTS: Final = (BeltShell("inner", 1e6, 12e6, "encyclopaedia"),)
STARTS_APART: Final = frozenset({"gannet"})


@dataclass(frozen=True, slots=True)
class Fleet:
    """A ferry with a drop tank, the saddle, and a tug, Gannet, that begins apart; the numbers that tests vary."""

    dry_kg: float = 10_000.0
    boil_off_per_s: float = 0.0
    heat_w: float = 0.0
    start_kg: float = 0.0

    @property
    def dry_by_element(self) -> dict[str, float]:
        """Dry masses, kg."""
        return {"ferry": self.dry_kg, "saddle": 1_500.0, "gannet": 2_000.0}

    def elements(self) -> tuple[Element, ...]:
        """Build the three."""
        losses = {"start_loss_kg": self.start_kg, "stop_loss_kg": 0.4 * self.start_kg}
        motor = Engine(ENGINE, 316.0, 60_000.0, 1.65, **losses, count=2, needed=1, ignites=0.95)
        hold = storable_tank(load_kg=8_000.0, boil_off_per_s=self.boil_off_per_s)
        heats = tuple((place, self.heat_w * share) for place, share in zip(Environment, (1.0, 0.3, 0.6), strict=True))
        cold = (
            Liquid(Role.OXIDISER, "oxygen", 1141.0, vent_heat_j_kg=2.139e5, heat_leaks_w=heats),
            Liquid(Role.FUEL, "methane", 422.0, vent_heat_j_kg=5.15e5, heat_leaks_w=heats),
        )
        main = Tank(SADDLE_TANK, "lox-lch4", cold, load_kg=12_000.0, load_ratio=1.65)
        dry = self.dry_by_element
        return (
            Element("ferry", dry["ferry"], (motor,), (hold,)),
            Element("saddle", dry["saddle"], (), (main,)),
            Element("gannet", dry["gannet"], (), (storable_tank("gannet.hold", 4_000.0),)),
        )


@dataclass(frozen=True, slots=True)
class Voyage:
    """Legs that can follow one another, and the stack after each (the first entry: before any)."""

    legs: tuple[Leg, ...]
    stacks: tuple[frozenset[str], ...]

    def mission(self, fleet: Fleet) -> Mission:
        """Send a fleet on it."""
        return Mission("a voyage", fleet.elements(), self.legs, (StackMass("mass", 1e6),), STARTS_APART)

    def ledger(self, fleet: Fleet) -> Ledger:
        """Fly it, one case."""
        return compile_plan(self.mission(fleet)).ledger(np.empty((0, 1)))

    def rewritten(self, change: Callable[[Leg], Iterable[Leg]]) -> Voyage:
        """Put others in the place of each leg; the stacks are not told anew."""
        return replace(self, legs=tuple(new for leg in self.legs for new in change(leg)))


@dataclass(slots=True)
class _Log:
    """A voyage being drawn: `draw` gives a value of a strategy."""

    draw: Callable[[Any], Any]
    joined: set[str] = field(default_factory=lambda: {"ferry", "saddle"})
    gone: set[str] = field(default_factory=set)
    legs: list[Leg] = field(default_factory=list)
    stacks: list[frozenset[str]] = field(default_factory=list)

    def tank(self) -> str:
        return SADDLE_TANK if "saddle" in self.joined and self.draw(st.booleans()) else TANK

    def number(self, low: float, high: float) -> float:
        return float(self.draw(st.floats(low, high, allow_subnormal=False)))

    def add(self, kind: str) -> None:
        leg = _MAKERS[kind](self, f"leg {len(self.legs)}")
        if leg is not None:
            self.legs.append(leg)
            self.stacks.append(frozenset(self.joined))


def _burn(log: _Log, name: str) -> Leg:
    return Burn(name, ENGINE, log.tank(), log.number(0.0, 300.0), None, (log.number(0.0, 0.9),))


def _long_burn(log: _Log, name: str) -> Leg:
    passes = log.draw(st.integers(1, 3))
    finite = FiniteBurn("earth", log.number(200e3, 900e3), passes=passes, belts=BELTS)
    return Burn(name, ENGINE, log.tank(), log.number(100.0, 500.0), finite, (log.number(0.0, 0.9),) * passes)


def _coast(log: _Log, name: str) -> Leg:
    return Coast(name, log.number(0.0, 20 * DAY), log.draw(st.sampled_from([None, *Environment])))


def _load(log: _Log, name: str) -> Leg:
    return Load(name, log.tank(), log.number(0.0, 3_000.0))


def _refuel(log: _Log, name: str) -> Leg:
    flights = tuple(
        TankerFlight(log.number(1.0, 9.0) * DAY, log.number(500.0, 6_000.0), log.number(0.0, 1.0))
        for _ in range(log.draw(st.integers(1, 4)))
    )
    return Refuel(name, log.tank(), flights, arrives=0.9, deadline_s=log.number(5.0, 40.0) * DAY)


def _transfer(log: _Log, name: str) -> Leg | None:
    if "saddle" in log.gone:
        return None
    return Transfer(name, SADDLE_TANK, TANK, log.number(0.0, 500.0), loss=log.number(0.0, 0.05))


def _tug(log: _Log, name: str) -> Leg:
    if "gannet" in log.joined:
        log.joined.discard("gannet")
        return Undock(name, "gannet")
    log.joined.add("gannet")
    return Dock(name, "gannet")


def _drop(log: _Log, name: str) -> Leg | None:
    if "saddle" in log.gone:
        return None
    log.joined.discard("saddle")
    log.gone.add("saddle")
    return Drop(name, "saddle")


_MAKERS: Final = {
    "burn": _burn,
    "long burn": _long_burn,
    "coast": _coast,
    "load": _load,
    "refuel": _refuel,
    "transfer": _transfer,
    "tug": _tug,
    "drop": _drop,
}
KINDS: Final = tuple(_MAKERS)
"""What a voyage may be made of; an entry, which ends it, comes on top."""


@st.composite
def voyages(draw: Any, kinds: Iterable[str] = KINDS, *, enters: bool = True) -> Voyage:
    """Draw a voyage of some kinds of leg, with or without an entry at its end."""
    log = _Log(draw)
    log.stacks.append(frozenset(log.joined))
    for kind in draw(st.lists(st.sampled_from(tuple(kinds)), min_size=1, max_size=8)):
        log.add(kind)
    if enters and draw(st.booleans()):
        log.legs.append(Entry("home", 11_000.0, float(np.radians(6.3)), 0.3, 2.0, 350.0))
        log.stacks.append(frozenset(log.joined))
    if not log.legs:
        log.add("coast")
    return Voyage(tuple(log.legs), tuple(log.stacks))


def contents(ledger: Ledger, position: int = -1) -> float:
    """Give what all tanks hold that are not left behind, kg."""
    return sum(float(v[0]) for tank in ledger.rows[position].propellant_kg.values() for v in tank.values())
