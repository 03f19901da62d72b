"""Which sources a mission rests on: its formulas, its propellants, its losses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass

from leadline.budget.formulas import FORMULAS
from leadline.budget.starts import SOURCE as START_SOURCE
from leadline.constants import BODY_SOURCE, STANDARD_GRAVITY_SOURCE, Source
from leadline.physics import belts, boil_off, finite_burn, radiator, rocket
from leadline.physics.entry_heating import HEATING_SOURCES
from leadline.physics.entry_table import TABLE_SOURCE
from leadline.physics.propellants import LIQUIDS
from leadline.vehicle import BeltShell, Engine, Entry, FiniteBurn, Formula, HeatRejected, Liquid, Mission

__all__ = ["sources_of"]


def sources_of(mission: Mission) -> tuple[Source, ...]:
    """Give the sources of the formulas and data a mission rests on, without repetition.

    Parameters
    ----------
    mission
        The mission.

    Returns
    -------
    tuple of Source
        In the order in which the mission first uses them.
    """
    found = [rocket.SOURCE, STANDARD_GRAVITY_SOURCE]
    for part in _parts(mission):
        if isinstance(part, Formula):
            found += FORMULAS[part.kind].sources
        elif isinstance(part, Liquid):
            found += _of_liquid(part)
        elif isinstance(part, FiniteBurn):
            found += [finite_burn.SOURCE, BODY_SOURCE]
        elif isinstance(part, BeltShell) and part.published is not None:
            found.append(belts.BOUNDS[part.published][0].source)
        elif isinstance(part, Engine) and part.ignites is not None:
            found.append(START_SOURCE)
        elif isinstance(part, Entry):
            found += [TABLE_SOURCE, *HEATING_SOURCES]
        elif isinstance(part, HeatRejected):
            found += radiator.ENVIRONMENTS[part.environment].sources
    return tuple(dict.fromkeys(found))


def _of_liquid(liquid: Liquid) -> Iterator[Source]:
    """Give the sources of what a liquid is taken to be like, unless the study says so itself."""
    known = LIQUIDS.get(liquid.name)
    if known is not None and (
        liquid.density_kg_m3 == known.density_kg_m3 or (liquid.boils and liquid.vent_heat_j_kg == known.vent_heat_j_kg)
    ):
        yield known.source
    if liquid.boils:
        yield boil_off.SOURCE


def _parts(noun: object) -> Iterator[object]:
    """Give a noun and, depth first, every noun and number inside it."""
    yield noun
    if is_dataclass(noun):
        for member in fields(noun):
            yield from _parts(getattr(noun, member.name))
    elif isinstance(noun, tuple):
        for item in noun:
            yield from _parts(item)
