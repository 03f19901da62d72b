"""What the model leaves out, in sentences that every result carries."""

from __future__ import annotations

from leadline.run.limits_of_burns import limits_of_burns
from leadline.run.limits_of_ends import limits_of_ends
from leadline.run.limits_of_tanks import limits_of_tanks
from leadline.study import Study
from leadline.vehicle import Burn, Formula, Mission, Transfer

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
GEOMETRY = (
    "Costs that follow from geometry are of impulsive burns at the ends of two-body orbits; the excess speed at"
    " the Moon comes from three-body flights in the plane of the Moon's orbit. Changes of plane on the way, the Sun"
    " and navigation are left out; what the lunar model leaves out is carried as model_error."
)
BOIL_OFF = (
    "Propellant boils off only while coasting and waiting, at a rate or heat leak that stays the same over the"
    " coast, however full the tank is; pressure control, stratification and reliquefaction are left out."
)
TRANSFERS = "A transfer moves what is stated less its loss; its pumps and settling burns are left out."


def limits_of(study: Study) -> tuple[str, ...]:
    """Return the limits that matter to a study."""
    mission = study.mission
    kinds = {type(leg) for leg in mission.legs}
    found = list(ALWAYS)
    found += limits_of_burns(mission)
    if any(isinstance(leg, Burn) and isinstance(leg.delta_v_m_s, Formula) for leg in mission.legs):
        found.append(GEOMETRY)
    if _boils(mission):
        found.append(BOIL_OFF)
    if Transfer in kinds:
        found.append(TRANSFERS)
    found += limits_of_tanks(mission)
    found += limits_of_ends(mission)
    return tuple(found)


def _boils(mission: Mission) -> bool:
    return any(liquid.boils for element in mission.elements for tank in element.tanks for liquid in tank.liquids)
