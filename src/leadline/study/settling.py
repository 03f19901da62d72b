"""What a study leaves unsaid, settled and written out, so that a reader sees it."""

from __future__ import annotations

from dataclasses import dataclass

from leadline.study.document import Dependence, StudyDocument
from leadline.study.model_numbers import median
from leadline.study.model_tank import TankRecord
from leadline.study.model_vehicle import ElementRecord
from leadline.study.parts import Parts
from leadline.study.paths import full_path

__all__ = ["settle", "sorted_pair"]


def settle(document: StudyDocument) -> StudyDocument:
    """Write out mixture ratios at loading, full paths and the order of names.

    Parts that have names are put in the order of their names, since the order of keys in a
    mapping carries no meaning: two texts with the same content are the same study.
    """
    settled = _Settled(document.parts)
    vehicle = {name: settled.element(name, document.vehicle[name]) for name in sorted(document.vehicle)}
    changes = {
        "vehicle": vehicle,
        "propellants": document.propellants and dict(sorted(document.propellants.items())),
        "requirements": {name: document.requirements[name] for name in sorted(document.requirements)},
        "dependence": tuple(sorted((_settled_pair(d) for d in document.dependence), key=lambda d: d.between)),
        "notes": tuple(dict.fromkeys((*document.notes, *settled.notes))),
    }
    return document.model_copy(update=changes)


def sorted_pair(dependence: Dependence) -> tuple[str, str]:
    """Write the two numbers of a dependence in full, in the order of their names."""
    first, second = sorted(full_path(name) for name in dependence.between)
    return first, second


def _settled_pair(dependence: Dependence) -> Dependence:
    return dependence.model_copy(update={"between": sorted_pair(dependence)})


class _Settled:
    """Settles elements and keeps what there is to say about it."""

    def __init__(self, parts: Parts) -> None:
        self.parts = parts
        self.notes: list[str] = []

    def element(self, name: str, element: ElementRecord) -> ElementRecord:
        """Settle an element."""
        tanks = {tank: self.tank(f"{name}.{tank}", element.tanks[tank]) for tank in sorted(element.tanks)}
        engines = {engine: element.engines[engine] for engine in sorted(element.engines)}
        budget = None if element.mass_budget is None else element.mass_budget.settled
        return element.model_copy(update={"tanks": tanks, "engines": engines, "mass_budget": budget})

    def tank(self, name: str, tank: TankRecord) -> TankRecord:
        """Settle a tank's mixture ratio at loading."""
        if tank.load_ratio is not None or not tank.has_oxidiser:
            return tank
        burner = self._burner(name)
        if burner is not None:
            self.notes.append(f"{name} is loaded at mixture ratio {burner.ratio:.4g}, the median of {burner.engine}.")
            return tank.model_copy(update={"load_ratio": burner.ratio})
        usual = tank.combination.mixture_ratio
        self.notes.append(
            f"{name} feeds no engine; it is loaded at the usual mixture ratio of {tank.propellant}, {usual:g}."
        )
        return tank.model_copy(update={"load_ratio": usual})

    def _burner(self, tank: str) -> _Burner | None:
        """Find the first engine that burns from a tank, or from one that it is transferred to."""
        fed = {tank}
        for leg in self.parts.read_legs:
            if leg.drawn in fed and leg.burning is not None:
                engine = self.parts.engines.get(leg.burning)
                ratio = None if engine is None else engine.mixture_ratio
                return None if ratio is None else _Burner(leg.burning, median(ratio))
            if leg.drawn in fed and leg.fed is not None:
                fed.add(leg.fed)
        return None


@dataclass(frozen=True, slots=True)
class _Burner:
    """An engine and the middle of its mixture ratio."""

    engine: str
    ratio: float
