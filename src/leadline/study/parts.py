"""The parts of a study by name, complete or as far as they could be read."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from leadline.study.model_tank import TankRecord
from leadline.study.model_vehicle import ElementRecord, EngineRecord

__all__ = ["LegFacts", "Parts", "ignition_name", "room_name", "supply_name"]


class LegFacts(Protocol):
    """What others need to know of a leg."""

    @property
    def name(self) -> str:
        """The leg's name."""

    @property
    def moved(self) -> str | None:
        """The element that it joins to the stack or takes from it."""

    @property
    def joins(self) -> bool:
        """Whether the element moved was apart before."""

    @property
    def filled(self) -> str | None:
        """The tank that it fills and that therefore starts empty."""

    @property
    def drawn(self) -> str | None:
        """The tank that must hold what it takes from it."""

    @property
    def fed(self) -> str | None:
        """The tank that receives what is drawn."""

    @property
    def burning(self) -> str | None:
        """The engine that burns."""

    @property
    def implied(self) -> tuple[str, ...]:
        """Names of the requirements that it brings with it."""


@dataclass(frozen=True, slots=True)
class Parts:
    """Elements and legs, None for one that could not be read, and the names of legs and requirements.

    With some unread, references can still be checked: what a part that could not be read
    would have held is left in doubt, and nothing is said about it.
    """

    elements: Mapping[str, ElementRecord | None]
    legs: Sequence[LegFacts | None]
    leg_names: Sequence[str | None]
    requirement_names: Collection[str]

    @property
    def tanks(self) -> dict[str, TankRecord]:
        """Every tank that could be read, as ``element.tank``."""
        known = [(name, element) for name, element in self.elements.items() if element is not None]
        return {f"{name}.{tank}": record for name, element in known for tank, record in element.tanks.items()}

    @property
    def engines(self) -> dict[str, EngineRecord]:
        """Every engine that could be read, as ``element.engine``."""
        known = [(name, element) for name, element in self.elements.items() if element is not None]
        return {f"{name}.{engine}": record for name, element in known for engine, record in element.engines.items()}

    @property
    def read_legs(self) -> list[LegFacts]:
        """The legs that could be read, in order."""
        return [leg for leg in self.legs if leg is not None]

    @property
    def apart(self) -> frozenset[str]:
        """Elements not in the stack at the start: those that are first joined to it, not parted from it."""
        first: dict[str, bool] = {}
        for leg in self.read_legs:
            if leg.moved is not None:
                first.setdefault(leg.moved, leg.joins)
        return frozenset(element for element, joins in first.items() if joins)

    @property
    def drawn(self) -> tuple[str, ...]:
        """Tanks that some leg takes propellant from, in the order of the legs."""
        return tuple(dict.fromkeys(leg.drawn for leg in self.read_legs if leg.drawn is not None))

    @property
    def vented(self) -> tuple[str, ...]:
        """Tanks that say at what pressure they vent."""
        return tuple(name for name, tank in self.tanks.items() if tank.vents_at is not None)

    @property
    def implied(self) -> tuple[str, ...]:
        """Names of the requirements that come with the legs: what each brings, then the supply of tanks drawn on."""
        brought = [name for leg in self.read_legs for name in leg.implied]
        of_parts = (*map(ignition_name, self.uncertain_starts), *map(room_name, self.vented))
        return (*brought, *of_parts, *map(supply_name, self.drawn))

    @property
    def uncertain_starts(self) -> tuple[str, ...]:
        """Names of the burns whose engines may fail to light."""
        uncertain = {name for name, engine in self.engines.items() if engine.ignites is not None}
        return tuple(leg.name for leg in self.read_legs if leg.burning in uncertain)


def ignition_name(burn: str) -> str:
    """Name the requirement that enough engines light at every start of a burn."""
    return f"ignition of {burn}"


def room_name(tank: str) -> str:
    """Name the requirement that a closed tank vents before it is full of liquid."""
    return f"room before venting in {tank}"


def supply_name(tank: str) -> str:
    """Name the requirement that every draw on a tank is met."""
    return f"supply of {tank}"
