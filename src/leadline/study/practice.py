"""Default laws by name, for an analyst who knows a number's size and not its spread.

This is data: every row says how a law is made from the number's nominal value, and where
its figures come from. Most are what the trade commonly takes, from memory, and say so; a
study that knows better writes its own law instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from leadline.constants import Source, Standing
from leadline.units import (
    FORCE,
    FRACTION,
    MASS,
    POWER,
    RATE,
    RATIO,
    SPECIFIC_IMPULSE,
    SPEED,
    Dimension,
)

__all__ = ["MATURITIES", "PRACTICES", "Maturity", "Practice", "practices_for"]


@dataclass(frozen=True, slots=True)
class Practice:
    """A default law: which one it is, and how it follows from the nominal value.

    Parameters
    ----------
    name
        What a study calls it.
    dimensions
        Which numbers it is for.
    shape
        The law, as a study names it.
    says
        What it is for and what it takes, in a sentence.
    source
        Where its figures come from.
    of_nominal
        Parameters in proportion to the nominal value.
    fixed
        Parameters that do not depend on it, in SI or plain factors.
    """

    name: str
    dimensions: tuple[Dimension, ...]
    shape: str
    says: str
    source: Source
    of_nominal: Mapping[str, float] = field(default_factory=dict)
    fixed: Mapping[str, float] = field(default_factory=dict)

    @property
    def takes_nominal(self) -> bool:
        """Whether it is a law about a nominal value; the others stand alone."""
        return bool(self.of_nominal)

    @property
    def scales(self) -> bool:
        """Whether its spread is in proportion to the nominal value, which must then be above zero."""
        return self.takes_nominal and set(self.of_nominal) != {"mean"}

    def parameters(self, nominal: float) -> dict[str, float]:
        """Return the law's parameters for a nominal value; both in SI."""
        return {key: share * nominal for key, share in self.of_nominal.items()} | dict(self.fixed)


def _memory(what: str, where: str) -> Source:
    return Source(what, f"{where}; common practice from memory", Standing.PRACTICE)


_ISP: Final = "Specific impulse of one engine, one standard deviation of 0.3 to 0.5 %, what is not known of it included"
_THRUST: Final = "Thrust of one engine, one standard deviation of 0.5 to 1 %"
_GROWTH: Final = (
    "Growth allowances by maturity for structure, propulsion and thermal parts (18, 15, 8, 4, 2 and 0 %),"
    " as an uncited table in public code gives them"
)
_INSULATION: Final = (
    "Boil-off and heat leak, one standard deviation of 20 to 50 % at concept: lognormal, factor 1.3 to 2"
)
_STUDY_RULES: Final = "ESA SRE-PA/2011.097 issue 1 revision 3, Margin philosophy for science assessment studies"


def _normal(share: float) -> dict[str, float]:
    return {"mean": 1.0, "sd": share}


def _growing(low: float, likely: float, high: float) -> dict[str, float]:
    return {"low": low, "likely": likely, "high": high}


_ABOUT_NOMINAL: Final = (
    Practice(
        "isp of a flown engine",
        (SPECIFIC_IMPULSE,),
        "normal",
        "An engine that has flown, its firings known: sd 0.3 % of the nominal.",
        _memory(_ISP, "low end of the range"),
        _normal(0.003),
    ),
    Practice(
        "isp of a new engine",
        (SPECIFIC_IMPULSE,),
        "normal",
        "An engine not yet fired at length: sd 0.5 % of the nominal.",
        _memory(_ISP, "high end of the range"),
        _normal(0.005),
    ),
    Practice(
        "thrust of a flown engine",
        (FORCE,),
        "normal",
        "An engine that has flown: sd 0.5 % of the nominal.",
        _memory(_THRUST, "low end of the range"),
        _normal(0.005),
    ),
    Practice(
        "thrust of a new engine",
        (FORCE,),
        "normal",
        "An engine not yet fired at length: sd 1 % of the nominal.",
        _memory(_THRUST, "high end of the range"),
        _normal(0.01),
    ),
    Practice(
        "mixture ratio without utilisation control",
        (RATIO,),
        "normal",
        "Open loop: sd 0.75 % of the nominal.",
        _memory("Mixture ratio, open loop, one standard deviation of 0.5 to 1 %", "middle of the range"),
        _normal(0.0075),
    ),
    Practice(
        "mixture ratio with utilisation control",
        (RATIO,),
        "normal",
        "Propellant utilisation control at work: sd 0.2 % of the nominal.",
        _memory(
            "Mixture ratio, utilisation control at work, one standard deviation of 0.15 to 0.3 %", "within the range"
        ),
        _normal(0.002),
    ),
    Practice(
        "dry mass at concept",
        (MASS,),
        "pert",
        "Sketches only: grows by 18 % in the mean over the best estimate; from none to 48 %, 15 % most likely.",
        _memory(_GROWTH, "mean of the first step; the ends, which make an sd of 8.8 %, within 5 to 10 %"),
        _growing(1.0, 1.15, 1.48),
    ),
    Practice(
        "dry mass at preliminary design",
        (MASS,),
        "pert",
        "Drawings before release: grows by 8 % in the mean; from none to 20 %, 7 % most likely.",
        _memory(_GROWTH, "mean of the third step; the ends chosen between those of concept and critical design"),
        _growing(1.0, 1.07, 1.20),
    ),
    Practice(
        "dry mass at critical design",
        (MASS,),
        "pert",
        "Drawings released: grows by 4 % in the mean; from none to 10 %, 3.5 % most likely.",
        _memory(_GROWTH, "mean of the fourth step; the ends, which make an sd of 1.9 %, within 1 to 2 %"),
        _growing(1.0, 1.035, 1.10),
    ),
    Practice(
        "dry mass of a flown design",
        (MASS,),
        "pert",
        "Built again with small changes: grows by 2 % in the mean; from -1 % to 5 %, 2 % most likely.",
        _memory(_GROWTH, "mean of the fifth step; the ends chosen below those of critical design"),
        _growing(0.99, 1.02, 1.05),
    ),
    Practice(
        "weighed dry mass",
        (MASS,),
        "normal",
        "Weighed, but for scales and the last changes: sd 0.2 % of the nominal.",
        _memory("Dry mass as weighed, no growth, one standard deviation of about 0.2 %", "scales and the last changes"),
        _normal(0.002),
    ),
    Practice(
        "insulation flown",
        (POWER, RATE),
        "lognormal",
        "Heat leak or boil-off through insulation that has flown: factor 1.2 about the nominal as median.",
        _memory(_INSULATION, "a narrower factor for what has flown"),
        {"median": 1.0},
        {"spread": 1.2},
    ),
    Practice(
        "insulation built",
        (POWER, RATE),
        "lognormal",
        "Heat leak or boil-off through insulation built and not flown: factor 1.35 about the nominal as median.",
        _memory(_INSULATION, "low end of the factor"),
        {"median": 1.0},
        {"spread": 1.35},
    ),
    Practice(
        "insulation on paper",
        (POWER, RATE),
        "lognormal",
        "Heat leak or boil-off through insulation at concept: factor 1.5 about the nominal as median.",
        _memory(_INSULATION, "within the factor"),
        {"median": 1.0},
        {"spread": 1.5},
    ),
    Practice(
        "burn cut-off",
        (SPEED,),
        "normal",
        "What a burn gives when its engine is cut off: sd 0.5 m/s about the nominal.",
        _memory("Cut-off error, three standard deviations of 0.5 to 3 m/s", "half of the high end"),
        {"mean": 1.0},
        {"sd": 0.5},
    ),
)

_ALONE: Final = (
    Practice(
        "outbound corrections",
        (SPEED,),
        "lognormal",
        "All corrections on the way to the Moon: median 7.4 m/s; 25 m/s is reached with the chance of three sigma.",
        _memory("Outbound corrections in all, 15 to 35 m/s at three sigma", "middle of the range"),
        fixed={"median": 25.0 / 1.5**3, "spread": 1.5},
    ),
    Practice(
        "return corrections",
        (SPEED,),
        "lognormal",
        "All corrections on the way back: median 3 m/s; 10 m/s is reached with the chance of three sigma.",
        _memory("Return corrections in all, 5 to 15 m/s at three sigma", "middle of the range"),
        fixed={"median": 10.0 / 1.5**3, "spread": 1.5},
    ),
    Practice(
        "injection error",
        (SPEED,),
        "truncated normal",
        "Size of the velocity error left by injection into low Earth orbit: half of a normal law with sd 2 m/s.",
        _memory("Injection error, three standard deviations of 3 to 10 m/s", "within the range"),
        fixed={"mean": 0.0, "sd": 2.0, "at_least": 0.0},
    ),
    Practice(
        "unusable propellant",
        (FRACTION,),
        "pert",
        "Share of the propellant that cannot be burned: 2 % most likely, from 1 to 3 %.",
        Source(
            _STUDY_RULES,
            "rule R-M1-6 as others quote it: 2 %; the range of 1 to 3 % from memory",
            Standing.SECOND_HAND,
            2012,
        ),
        fixed={"low": 0.01, "likely": 0.02, "high": 0.03},
    ),
)

PRACTICES: Final[Mapping[str, Practice]] = MappingProxyType({one.name: one for one in (*_ABOUT_NOMINAL, *_ALONE)})
"""Every practice law by its name."""


def practices_for(dimension: Dimension) -> tuple[Practice, ...]:
    """Return the practice laws for numbers of a dimension."""
    return tuple(one for one in PRACTICES.values() if dimension in one.dimensions)


@dataclass(frozen=True, slots=True)
class Maturity:
    """How far a design has come, and the growth allowance commonly taken for it, a share of the best estimate."""

    name: str
    growth: float
    source: Source


def _table(where: str) -> Source:
    return Source(_GROWTH, f"{where}, tied to no standard", Standing.PRACTICE)


def _rule(where: str) -> Source:
    return Source(_STUDY_RULES, f"{where} as others quote it", Standing.SECOND_HAND, 2012)


MATURITIES: Final[Mapping[str, Maturity]] = MappingProxyType(
    {
        one.name: one
        for one in (
            Maturity("concept", 0.18, _table("estimated from sketches, 18 %")),
            Maturity("preliminary", 0.08, _table("drawings before release, 8 %")),
            Maturity("critical", 0.04, _table("drawings released, 4 %")),
            Maturity("flown", 0.02, _table("existing hardware, 2 %")),
            Maturity("weighed", 0.0, _table("weighed, none")),
            Maturity("off the shelf", 0.05, _rule("equipment off the shelf, rule R-M1-41: at least 5 %")),
            Maturity("minor modification", 0.10, _rule("equipment slightly modified, rule R-M1-42: at least 10 %")),
            Maturity("new or modified", 0.20, _rule("new or much modified, rule R-M1-43: at least 20 %")),
        )
    }
)
"""Growth allowances by maturity, whole designs first, then single pieces of equipment."""
