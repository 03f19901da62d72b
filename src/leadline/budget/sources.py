"""Which sources a mission rests on: its formulas, its propellants, its losses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass

from leadline.budget.formulas import FORMULAS
from leadline.constants import STANDARD_GRAVITY_SOURCE, Source
from leadline.physics import boil_off, rocket
from leadline.physics.propellants import PROPELLANTS
from leadline.vehicle import Formula, Liquid, Mission, Tank

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
        elif isinstance(part, Tank) and part.propellant in PROPELLANTS:
            combination = PROPELLANTS[part.propellant]
            found += [liquid.source for liquid in (combination.oxidiser, combination.fuel) if liquid]
        elif isinstance(part, Liquid) and (part.heat_leak_w is not None or part.boil_off_per_s is not None):
            found.append(boil_off.SOURCE)
    return tuple(dict.fromkeys(found))


def _parts(noun: object) -> Iterator[object]:
    """Give a noun and, depth first, every noun and number inside it."""
    yield noun
    if is_dataclass(noun):
        for member in fields(noun):
            yield from _parts(getattr(noun, member.name))
    elif isinstance(noun, tuple):
        for item in noun:
            yield from _parts(item)
