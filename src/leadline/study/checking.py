"""A tree checked against the document: its shape, then its references.

Where the shape is at fault somewhere, the elements, legs and requirements that are sound
are still checked for what they refer to, so that everything wrong is said at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from pydantic import ValidationError

from leadline.errors import Issue
from leadline.study import limits
from leadline.study.data_files import DataFolder
from leadline.study.document import StudyDocument, kind_of
from leadline.study.leg_record import LegRecord
from leadline.study.liquids import check_liquids
from leadline.study.messages import issues_of
from leadline.study.model_legs import LEG_KINDS
from leadline.study.model_requirements import REQUIREMENT_KINDS
from leadline.study.model_vehicle import ElementRecord
from leadline.study.parts import Parts
from leadline.study.places import Tree
from leadline.study.propellant_names import context_of
from leadline.study.record import Record
from leadline.study.replacing import leg_name
from leadline.study.requirement_record import RequirementRecord
from leadline.study.walk import Walk

__all__ = ["check"]


def check(tree: Mapping[str, Tree], folder: DataFolder) -> tuple[StudyDocument | None, list[Issue]]:
    """Check a tree; the document is None where its shape is at fault."""
    folder = context_of(tree, folder)
    try:
        document = StudyDocument.model_validate(tree, context=folder)
    except ValidationError as error:
        return None, [*issues_of(error, StudyDocument), *_check_sound(tree, folder)]
    return document, _check_parts(document.parts, document.legs, document.requirements)


def _check_parts(
    parts: Parts, legs: Sequence[LegRecord | None], requirements: Mapping[str, RequirementRecord | None]
) -> list[Issue]:
    own = [*check_liquids(parts), *_check_loads(parts), *_check_names(parts), *_check_implied(parts)]
    return [*own, *_walk(parts, legs, requirements)]


def _walk(
    parts: Parts, legs: Sequence[LegRecord | None], requirements: Mapping[str, RequirementRecord | None]
) -> list[Issue]:
    """Go through the legs on paper, then through the requirements."""
    walk = Walk(parts)
    for position, leg in enumerate(legs):
        if leg is not None:
            walk.begin(("legs", position))
            leg.check(walk)
            walk.end(leg.name)
    for name, requirement in requirements.items():
        if requirement is not None:
            walk.begin(("requirements", name))
            requirement.check(walk)
    return walk.issues


def _check_loads(parts: Parts) -> list[Issue]:
    """Refuse a tank that nothing ever fills, as long as every leg could be read."""
    filled = {tank for leg in parts.read_legs for tank in (leg.filled, leg.fed)}
    if None in parts.legs:
        return []
    return [
        Issue(
            ("vehicle", *name.split(".", 1)[:1], "tanks", name.split(".", 1)[1]),
            f"Nothing is ever in {name}.",
            'Give it its load, such as "load: 50 t", or fill it with a load or transfer leg.',
            "missing-key",
        )
        for name, tank in parts.tanks.items()
        if tank.load is None and name not in filled
    ]


def _check_names(parts: Parts) -> list[Issue]:
    issues = []
    first: dict[str, int] = {}
    for position, name in enumerate(parts.leg_names):
        if name is not None and first.setdefault(name, position) != position:
            message = f'Another leg before is named "{name}" too.'
            issues.append(Issue(("legs", position), message, "Give each leg its own name.", "twice"))
    return issues


def _check_implied(parts: Parts) -> list[Issue]:
    """Check that the requirements that come with the legs have names and room of their own."""
    message = "This is the name of a requirement that comes with the legs."
    taken = sorted(set(parts.implied) & set(parts.requirement_names))
    issues = [Issue(("requirements", name), message, "Give it another name.", "twice") for name in taken]
    total = len(parts.requirement_names) + len(parts.implied)
    if total > limits.REQUIREMENTS:
        message = f"With those that come with the legs there are {total} requirements."
        issues.append(Issue(("requirements",), message, f"Keep them within {limits.REQUIREMENTS}.", "too-large"))
    return issues


_Model = TypeVar("_Model", bound=Record)


def _check_sound(tree: Mapping[str, Tree], folder: DataFolder) -> list[Issue]:
    """Check what the parts that could be read refer to; nothing where there is no vehicle or no list of legs."""
    vehicle, given, asked = tree.get("vehicle"), tree.get("legs"), tree.get("requirements")
    if not isinstance(vehicle, dict) or not isinstance(given, list) or len(given) > limits.LEGS:
        return []
    asked = asked if isinstance(asked, dict) and len(asked) <= limits.REQUIREMENTS else {}
    elements = {name: _sound(ElementRecord, element, folder) for name, element in vehicle.items()}
    legs = [_sound_kind(LEG_KINDS, leg, folder) for leg in given]
    requirements = {name: _sound_kind(REQUIREMENT_KINDS, one, folder) for name, one in asked.items()}
    return _check_parts(Parts(elements, legs, [leg_name(leg) for leg in given], asked), legs, requirements)


def _sound(model: type[_Model], given: Tree, folder: DataFolder) -> _Model | None:
    try:
        return model.model_validate(given, context=folder)
    except ValidationError:
        return None


def _sound_kind(kinds: Mapping[str, type[_Model]], given: Tree, folder: DataFolder) -> _Model | None:
    kind = kind_of(given, kinds)
    return None if kind is None else _sound(kinds[kind], given, folder)
