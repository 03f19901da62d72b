"""What the model leaves out, in sentences that every result carries."""

from __future__ import annotations

from leadline.study import Study
from leadline.vehicle import Burn, Coast, Formula, Mission, Transfer

__all__ = ["limits_of"]

ALWAYS = (
    "This is a concept estimate, no substitute for qualified engineering, range safety or the responsible authority.",
    "Intervals hold the error of sampling only, not that of the model or of the laws put in.",
    (
        "Only the numbers given a law vary; they depend on one another only where a rank correlation"
        " is given, through a Gaussian copula."
    ),
    "Every case flies the same legs in the same order; nothing is replanned on the way.",
)
BURNS = (
    "A burn gives the velocity change stated for it at once; losses from gravity, steering and drag"
    " must be in that number. A burn whose engine has no thrust takes no time."
)
GEOMETRY = (
    "Costs that follow from geometry are of impulsive burns at the ends of two-body orbits; the excess speed at"
    " the Moon comes from three-body flights in the plane of the Moon's orbit. Changes of plane on the way, the Sun"
    " and navigation are left out; what the lunar model leaves out is carried as model_error."
)
BOIL_OFF = (
    "Propellant boils off only while coasting, at a rate or heat leak that stays the same over the"
    " coast; pressure control, stratification and reliquefaction are left out."
)
TRANSFERS = "A transfer moves what is stated less its loss; its pumps and settling burns are left out."


def limits_of(study: Study) -> tuple[str, ...]:
    """Return the limits that matter to a study."""
    mission = study.mission
    kinds = {type(leg) for leg in mission.legs}
    found = list(ALWAYS)
    if Burn in kinds:
        found.append(BURNS)
    if any(isinstance(leg, Burn) and isinstance(leg.delta_v_m_s, Formula) for leg in mission.legs):
        found.append(GEOMETRY)
    if Coast in kinds and _boils(mission):
        found.append(BOIL_OFF)
    if Transfer in kinds:
        found.append(TRANSFERS)
    return tuple(found)


def _boils(mission: Mission) -> bool:
    return any(
        liquid.boil_off_per_s is not None or liquid.heat_leak_w is not None
        for element in mission.elements
        for tank in element.tanks
        for liquid in tank.liquids
    )
