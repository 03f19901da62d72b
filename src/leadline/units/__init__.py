"""Units at the border: what a study may write, and what a page shows.

Each quantity has a short list of units; what could be misread (kt, ton, lb) is refused with
the unit that was meant. Factors are exact fractions, so ``1.1 t`` and ``1100 kg`` are the
same float64. Inside leadline every number is SI and has no unit object.
"""

from __future__ import annotations

from leadline.units.dimensions import (
    ACCELERATION,
    ANGLE,
    AREA,
    AREAL_MASS,
    DENSITY,
    DIMENSIONS,
    FORCE,
    FRACTION,
    HEAT_FLUX,
    HEAT_LOAD,
    LENGTH,
    MASS,
    POWER,
    PRESSURE,
    RATE,
    RATIO,
    SPECIFIC_ENERGY,
    SPECIFIC_IMPULSE,
    SPEED,
    TEMPERATURE,
    TIME,
    VOLUME,
    Dimension,
    Unit,
)
from leadline.units.reading import (
    QuantityError,
    parse_quantity,
)
from leadline.units.writing import (
    humanise,
)

__all__ = [
    "ACCELERATION",
    "ANGLE",
    "AREA",
    "AREAL_MASS",
    "DENSITY",
    "DIMENSIONS",
    "FORCE",
    "FRACTION",
    "HEAT_FLUX",
    "HEAT_LOAD",
    "LENGTH",
    "MASS",
    "POWER",
    "PRESSURE",
    "RATE",
    "RATIO",
    "SPECIFIC_ENERGY",
    "SPECIFIC_IMPULSE",
    "SPEED",
    "TEMPERATURE",
    "TIME",
    "VOLUME",
    "Dimension",
    "QuantityError",
    "Unit",
    "humanise",
    "parse_quantity",
]
