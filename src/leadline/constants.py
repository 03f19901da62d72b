"""Physical constants, each with the record of where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

__all__ = [
    "BODY_SOURCE",
    "EARTH_GM_M3_S2",
    "EARTH_RADIUS_M",
    "MOON_GM_M3_S2",
    "MOON_MEAN_DISTANCE_M",
    "MOON_RADIUS_M",
    "STANDARD_GRAVITY_M_S2",
    "STANDARD_GRAVITY_SOURCE",
    "Source",
    "Standing",
]


class Standing(StrEnum):
    """How far a source can be leaned on."""

    PUBLISHED = "published"
    SECOND_HAND = "second-hand"
    PRACTICE = "trade practice, no source"
    COMPUTED = "computed"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a value or a formula comes from."""

    title: str
    where: str
    standing: Standing = Standing.PUBLISHED
    year: int | None = None

    def __str__(self) -> str:
        year = "" if self.year is None else f", {self.year}"
        return f"{self.title}{year}, {self.where} ({self.standing.value})"


STANDARD_GRAVITY_M_S2: Final = 9.80665
"""Standard acceleration of gravity; exact by definition."""

STANDARD_GRAVITY_SOURCE: Final = Source(
    "3rd General Conference on Weights and Measures, declaration on the kilogram and weight",
    "standard acceleration of gravity, exact",
    year=1901,
)

EARTH_GM_M3_S2: Final = 3.986004418e14
"""Gravitational parameter of the Earth (WGS 84)."""

EARTH_RADIUS_M: Final = 6_378_137.0
"""Equatorial radius of the Earth (WGS 84), from which altitudes count."""

MOON_GM_M3_S2: Final = 4.9028001e12
"""Gravitational parameter of the Moon (DE430 class)."""

MOON_RADIUS_M: Final = 1_737_400.0
"""Mean radius of the Moon (IAU working group on cartographic coordinates), from which altitudes count."""

MOON_MEAN_DISTANCE_M: Final = 384_400_000.0
"""Semi-major axis of the Moon's orbit; its time-mean distance is 384 990 km."""

BODY_SOURCE: Final = Source(
    "WGS 84, JPL DE430 and IAU values of the Earth and the Moon as carried by public astrodynamics code",
    "gravitational parameters and radii; the two radii from memory",
    Standing.SECOND_HAND,
)
