"""The shapes in which a study writes a law: which keys it has, and the law they make."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from enum import Enum
from types import MappingProxyType
from typing import Any, Final

from leadline.errors import Issue
from leadline.sampling.laws import (
    Discrete,
    Empirical,
    Law,
    Lognormal,
    Normal,
    Pert,
    Triangular,
    TruncatedNormal,
    Uniform,
)
from leadline.study.places import Tree
from leadline.study.suggest import listed, meant

__all__ = ["DATA", "KINDS", "LAW_KEYS", "MARKS", "PARAMETERS", "SHAPES", "Part", "Shape", "shape_for", "shape_of"]


class Part(Enum):
    """What kind of thing a parameter of a law is."""

    VALUE = "a value of the number itself"
    DIFFERENCE = "a spread, in the unit of the number"
    FACTOR = "a plain number"
    VALUES = "a list of values"
    CHANCES = "a list of chances"


PARAMETERS: Final[Mapping[str, Part]] = MappingProxyType(
    {
        "mean": Part.VALUE,
        "sd": Part.DIFFERENCE,
        "median": Part.VALUE,
        "spread": Part.FACTOR,
        "low": Part.VALUE,
        "likely": Part.VALUE,
        "high": Part.VALUE,
        "at_least": Part.VALUE,
        "at_most": Part.VALUE,
        "weight": Part.FACTOR,
        "values": Part.VALUES,
        "chances": Part.CHANCES,
    }
)


@dataclass(frozen=True, slots=True)
class Shape:
    """One way to write a law.

    Parameters
    ----------
    name
        What stands under ``law:``.
    required, optional
        Its parameters.
    build
        Makes the law from parameters in SI.
    words
        The law in a sentence, for the schema.
    defaults
        Optional parameters that are written out when they are left out.
    named
        Whether ``law:`` must be written, since its keys tell another law.
    """

    name: str
    required: tuple[str, ...]
    optional: tuple[str, ...]
    build: Callable[[Mapping[str, Any]], Law]
    words: str
    defaults: Mapping[str, float] = field(default_factory=dict)
    named: bool = False

    @property
    def keys(self) -> tuple[str, ...]:
        """Every parameter it may have."""
        return self.required + self.optional


def _truncated(p: Mapping[str, Any]) -> Law:
    return TruncatedNormal(p["mean"], p["sd"], p.get("at_least", -math.inf), p.get("at_most", math.inf))


DATA: Final = Shape(
    "data",
    ("values",),
    ("unit",),
    lambda p: Empirical(p["values"]),
    "From data: a column of a CSV file beside the study.",
)

SHAPES: Final[tuple[Shape, ...]] = (
    Shape("normal", ("mean", "sd"), (), lambda p: Normal(p["mean"], p["sd"]), "Normal: mean and standard deviation."),
    Shape(
        "truncated normal", ("mean", "sd"), ("at_least", "at_most"), _truncated, "Normal, cut off at one or both ends."
    ),
    Shape(
        "lognormal",
        ("median", "spread"),
        (),
        lambda p: Lognormal(p["median"], p["spread"]),
        "Lognormal: median and the factor of one standard deviation.",
    ),
    Shape(
        "lognormal",
        ("mean", "sd"),
        (),
        lambda p: Lognormal.from_mean_sd(p["mean"], p["sd"]),
        "Lognormal by mean and standard deviation; law: lognormal must be written.",
        named=True,
    ),
    Shape("uniform", ("low", "high"), (), lambda p: Uniform(p["low"], p["high"]), "Uniform between two ends."),
    Shape(
        "pert",
        ("low", "likely", "high"),
        ("weight",),
        lambda p: Pert(p["low"], p["likely"], p["high"], p["weight"]),
        "PERT: lowest, most likely, highest; weight 4 unless given.",
        MappingProxyType({"weight": 4.0}),
    ),
    Shape(
        "triangular",
        ("low", "likely", "high"),
        (),
        lambda p: Triangular(p["low"], p["likely"], p["high"]),
        "Triangular; law: triangular must be written.",
        named=True,
    ),
    Shape(
        "discrete",
        ("values", "chances"),
        (),
        lambda p: Discrete(p["values"], p["chances"]),
        "Discrete: values and their chances, which sum to one.",
    ),
    DATA,
)

MARKS: Final = ("practice", "nominal", "kind")
"""Keys beside a law's own: the practice law it follows, about which value, and what kind of not knowing it is."""

KINDS: Final = ("flight", "knowledge")
"""The two kinds of not knowing: what differs from flight to flight, and what is fixed and only not known."""

LAW_KEYS: Final = frozenset({"law", "data", "column", "unit", *PARAMETERS, *MARKS})
"""Every key that a law may have."""

_TELLING: Final = (
    # the first of these keys that is there tells the law where none is named
    ("data", "data"),
    ("column", "data"),
    ("chances", "discrete"),
    ("values", "discrete"),
    ("median", "lognormal"),
    ("spread", "lognormal"),
    ("at_least", "truncated normal"),
    ("at_most", "truncated normal"),
    ("mean", "normal"),
    ("sd", "normal"),
    ("likely", "pert"),
    ("weight", "pert"),
    ("low", "uniform"),
    ("high", "uniform"),
)


def shape_of(given: Mapping[str, Tree]) -> Shape | Issue:
    """Tell from its keys which law a mapping writes."""
    if "law" in given:
        return _named(given)
    name = next((name for key, name in _TELLING if key in given), None)
    if name is None:
        message = "These keys tell no law." if given else "An empty mapping is no law."
        return Issue((), message, f"Write a quantity, or one of {_KINDS_BY_KEYS}.", "no-law")
    return shape_for(name, given)


def _named(given: Mapping[str, Tree]) -> Shape | Issue:
    name = given["law"]
    if isinstance(name, str) and any(shape.name == name for shape in SHAPES):
        return shape_for(name, given)
    names = dict.fromkeys(shape.name for shape in SHAPES)
    return Issue(("law",), f'"{str(name)[:60]}" is no law known.', meant(str(name), names, "Laws"), "unknown-law")


def shape_for(name: str, keys: Collection[str]) -> Shape:
    """Find the way to write a law of a name that fits the keys best."""
    shapes = [shape for shape in SHAPES if shape.name == name]
    return max(shapes, key=lambda shape: sum(key in keys for key in shape.keys))


_KINDS_BY_KEYS: Final = listed(
    [
        "{mean, sd}",
        "{median, spread}",
        "{low, high}",
        "{low, likely, high}",
        "{values, chances}",
        "{data, column, unit}",
        "{practice, nominal}",
    ]
)
