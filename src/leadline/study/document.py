"""The whole document of a study."""

from __future__ import annotations

from collections.abc import Mapping
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag

from leadline.study import limits
from leadline.study.bounds import Bounds
from leadline.study.leg_record import LegRecord
from leadline.study.model_legs import LEG_KINDS
from leadline.study.model_numbers import Quantity
from leadline.study.model_propellant import OwnName, PropellantRecord
from leadline.study.model_requirements import REQUIREMENT_KINDS
from leadline.study.model_vehicle import ElementRecord
from leadline.study.parts import Parts
from leadline.study.record import Name, Note, Record, Reference, Title, field
from leadline.study.requirement_record import RequirementRecord
from leadline.units import FRACTION, RATIO

__all__ = ["AnyLeg", "AnyRequirement", "Ask", "Dependence", "StudyDocument", "kind_of"]


def kind_of(given: object, kinds: Mapping[str, type[Record]]) -> str | None:
    """Tell the kind of a leg or a requirement from its keys; None where none names one."""
    if not isinstance(given, dict):
        return None
    return next((key for key in given if key in kinds), None)


def _one_of(kinds: Mapping[str, type[Any]]) -> Any:
    tagged = [Annotated[model, Tag(kind)] for kind, model in kinds.items()]

    def tell(given: Any) -> str | None:
        return next((kind for kind, model in kinds.items() if type(given) is model), kind_of(given, kinds))

    return Annotated[reduce(or_, tagged), Discriminator(tell)]


if TYPE_CHECKING:
    AnyLeg = LegRecord
    AnyRequirement = RequirementRecord
else:
    AnyLeg = _one_of(LEG_KINDS)
    AnyRequirement = _one_of(REQUIREMENT_KINDS)


class Ask(Record):
    """What counts as good enough."""

    chance: Annotated[float, Quantity(FRACTION, Bounds(0.0, 1.0, open_low=True, open_high=True), fixed=True)] = field(
        "The chance of success that is wanted.", "95 %"
    )
    confidence: Annotated[float, Quantity(FRACTION, Bounds(0.0, 1.0, open_low=True, open_high=True), fixed=True)] = (
        field("The confidence with which it must be shown.", "90 %", default=0.9)
    )


class Dependence(Record):
    """Two dispersed numbers that tend to go together."""

    between: tuple[Reference, Reference] = field(
        "The two numbers, by their places in the study.", "[tern.dry_mass, saddle.dry_mass]"
    )
    rank: Annotated[float, Quantity(RATIO, Bounds(-1.0, 1.0), fixed=True)] = field(
        "Their rank correlation, from -1 to 1.", "0.4"
    )


class StudyDocument(Record):
    """A study: a vehicle, the legs it flies, the requirements it must meet, and the uncertainty of all of it."""

    leadline: Literal[1] = field("The version of this document's form.", "1")
    title: Title = field("What the study is about, in a line.", "Tern to the polar outpost and back")
    about: str | None = field("Anything a reader should know.", "Why this concept is looked at.", default=None)
    sources: tuple[Note, ...] = field(
        "Where the numbers come from.", "[Engine test report, table 3]", default=(), max_length=limits.SOURCES
    )
    notes: tuple[Note, ...] = field(
        "Remarks that go with every result.",
        "[Dry masses as of the last review]",
        default=(),
        max_length=limits.SOURCES,
    )
    option: Name | None = field("The option that a resolved study was made from.", "lighter", default=None)
    ask: Ask | None = field("What counts as good enough.", "{chance: 95 %, confidence: 90 %}", default=None)
    propellants: dict[OwnName, PropellantRecord] | None = field(
        "Propellants of the study's own, by name, beside those built in.",
        "{peroxide-kerosene: {oxidiser: {name: hydrogen peroxide, density: 1390 kg/m3}, fuel: {name: kerosene},"
        " mixture_ratio: 7.1}}",
        default=None,
        max_length=limits.PROPELLANTS,
    )
    vehicle: dict[Name, ElementRecord] = field(
        "The elements by name.", "{tern: {dry_mass: 18.4 t}}", min_length=1, max_length=limits.ELEMENTS
    )
    legs: tuple[AnyLeg, ...] = field(
        "The steps of the mission, in order.", "[{coast: outbound, lasts: 96 h}]", min_length=1, max_length=limits.LEGS
    )
    requirements: dict[Name, AnyRequirement] = field(
        "What must hold, by name.",
        "{reserve: {propellant: saddle.main, at_least: 0.9 t}}",
        min_length=1,
        max_length=limits.REQUIREMENTS,
    )
    dependence: tuple[Dependence, ...] = field(
        "Rank correlations between dispersed numbers.",
        "[{between: [tern.dry_mass, saddle.dry_mass], rank: 0.4}]",
        default=(),
        max_length=limits.DEPENDENCES,
    )
    options: dict[Name, Annotated[dict[str, Any], Field(min_length=1, max_length=limits.REPLACEMENTS)]] = field(
        "Named alternatives: values that replace others, by their places; null takes one out.",
        "{lighter: {tern.dry_mass: 17 t}}",
        default={},
        max_length=limits.OPTIONS,
    )

    @property
    def parts(self) -> Parts:
        """Its parts by name."""
        return Parts(self.vehicle, self.legs, [leg.name for leg in self.legs], self.requirements)
