"""A checked document bound to a mission: every number a float or a column of draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leadline import vehicle
from leadline.errors import Issue
from leadline.sampling import DependenceError, Input, RankCorrelation
from leadline.sampling.dependence import groups_of
from leadline.study.document import Dependence, StudyDocument
from leadline.study.model_vehicle import ElementRecord, EngineRecord
from leadline.study.numbers import Numbers
from leadline.study.parts import room_name, supply_name
from leadline.study.settling import sorted_pair
from leadline.study.suggest import meant, shortened
from leadline.study.tank_binding import bind_tank

__all__ = ["Bound", "bind", "correlations_of"]


@dataclass(frozen=True, slots=True)
class Bound:
    """A mission whose columns point into the inputs; `fixed` names the numbers without a law."""

    mission: vehicle.Mission
    inputs: tuple[Input, ...]
    fixed: tuple[str, ...]
    notes: tuple[str, ...]


def bind(document: StudyDocument) -> Bound:
    """Bind a settled document: elements, then legs, then requirements, in its order."""
    numbers = Numbers()
    parts = document.parts
    elements = tuple(_element(name, element, numbers) for name, element in document.vehicle.items())
    legs = tuple(leg.bind(numbers.within("legs", leg.name)) for leg in document.legs)
    asked = [r.bind(name, numbers.within("requirements", name)) for name, r in document.requirements.items()]
    brought = [r for leg in document.legs for r in leg.bind_implied(numbers.within("legs", leg.name))]
    rooms = [vehicle.VentRoom(room_name(tank), tank) for tank in parts.vented]
    supplies = [vehicle.Supply(supply_name(tank), tank) for tank in parts.drawn]
    mission = vehicle.Mission(document.title, elements, legs, (*asked, *brought, *rooms, *supplies), parts.apart)
    return Bound(mission, tuple(numbers.inputs), tuple(numbers.fixed), tuple(numbers.notes))


def _element(name: str, element: ElementRecord, numbers: Numbers) -> vehicle.Element:
    own = numbers.within("vehicle", name)
    dry_mass = own.at(element.dry_mass, "dry_mass")
    engines = [
        _engine(f"{name}.{key}", engine, numbers.within("vehicle", name, "engines", key))
        for key, engine in element.engines.items()
    ]
    tanks = [
        bind_tank(f"{name}.{key}", tank, numbers.within("vehicle", name, "tanks", key))
        for key, tank in element.tanks.items()
    ]
    sized = tuple(tank.mass_kg for tank in tanks if tank.mass_kg is not None)
    whole = vehicle.Formula("total", (dry_mass, *sized)) if sized else dry_mass
    return vehicle.Element(name, whole, tuple(engines), tuple(tanks))


def _engine(name: str, engine: EngineRecord, numbers: Numbers) -> vehicle.Engine:
    made = vehicle.Engine(
        name,
        isp_s=numbers.at(engine.isp, "isp"),
        thrust_n=numbers.optional(engine.thrust, "thrust"),
        mixture_ratio=numbers.optional(engine.mixture_ratio, "mixture_ratio"),
        start_loss_kg=numbers.at(engine.start_loss, "start_loss"),
        stop_loss_kg=numbers.at(engine.stop_loss, "stop_loss"),
        count=engine.how_many,
        needed=engine.least,
        ignites=numbers.optional(engine.ignites, "ignites"),
    )
    numbers.engines[name] = made
    return made


def correlations_of(dependence: Sequence[Dependence], bound: Bound) -> tuple[tuple[RankCorrelation, ...], list[Issue]]:
    """Make the rank correlations of a document, and say what is wrong with them."""
    names = [given.name for given in bound.inputs]
    pairs = [sorted_pair(given) for given in dependence]
    issues = [
        issue
        for position, pair in enumerate(pairs)
        for member in pair
        if (issue := _member_issue(member, position, names, bound.fixed)) is not None
    ]
    if issues:
        return (), issues
    try:
        made = tuple(RankCorrelation(*pair, given.rank) for pair, given in zip(pairs, dependence, strict=True))
        groups_of(names, made)
    except DependenceError as error:
        at = [position for position, pair in enumerate(pairs) if set(pair) == set(error.pair)]
        return (), [Issue(("dependence", *at[-1:]), error.problem, error.remedy, "dependence")]
    return tuple(sorted(made, key=lambda pair: (pair.first, pair.second))), []


def _member_issue(member: str, position: int, names: list[str], fixed: tuple[str, ...]) -> Issue | None:
    if member in names:
        return None
    path = ("dependence", position, "between")
    if member in fixed:
        message = f"{member} is a fixed number, and only one that has a law can depend on another."
        return Issue(path, message, "Give it a law, or take this entry out.", "fixed-number")
    message = f"There is no dispersed number {shortened(member)}."
    return Issue(path, message, meant(member, names, "Dispersed numbers"), "unknown-number")
