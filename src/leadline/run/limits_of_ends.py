"""What the models of tanker campaigns, entries and radiators leave out."""

from __future__ import annotations

from leadline.vehicle import Entry, HeatRejected, Mission, Refuel

__all__ = ["limits_of_ends"]

CAMPAIGNS = (
    "Tanker flights arrive or do not, independently of one another; one that arrives brings each liquid in proportion"
    " to what the tank lacks of it. Launch windows, lost time after a failure and what docking takes are left out."
)
ENTRIES = (
    "An entry is flown in a plane about a spherical Earth; its turning is taken off the speed only where the study"
    " states it; the lift keeps the path level once it has levelled off."
)
HEATING = (
    "Heating is that of the stagnation point with a cold, fully catalytic wall, from correlations with errors of tens"
    " of per cent: ratios between two entries of a vehicle are worth more than absolute values. Heating elsewhere, the"
    " shield's response and afterbody radiation are left out."
)
RADIATORS = (
    "A radiator is one flat face at one temperature in a steady environment; fins, the vehicle's own parts in view and"
    " heat that is stored are left out."
)


def limits_of_ends(mission: Mission) -> tuple[str, ...]:
    """Return the limits of the campaigns, entries and radiators that a mission has."""
    kinds = {type(leg) for leg in mission.legs} | {type(requirement) for requirement in mission.requirements}
    said = ((Refuel, CAMPAIGNS), (Entry, ENTRIES), (Entry, HEATING), (HeatRejected, RADIATORS))
    return tuple(sentence for kind, sentence in said if kind in kinds)
