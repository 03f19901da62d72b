"""What a study says of a number beside its law: the practice law it follows, and the kind of not knowing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from leadline.errors import Issue
from leadline.study.bounds import Bounds
from leadline.study.law_parts import read_one
from leadline.study.law_shapes import KINDS, MARKS
from leadline.study.places import Tree
from leadline.study.practice import PRACTICES, Practice, practices_for
from leadline.study.suggest import listed, meant, shortened
from leadline.units import Dimension, humanise

__all__ = ["Marks", "read_marks"]


@dataclass(frozen=True, slots=True)
class Marks:
    """The practice law of a number with its nominal value in SI, and whether it is fixed and only not known."""

    practice: Practice | None = None
    nominal: float | None = None
    knowledge: bool = False


def read_marks(given: Mapping[str, Tree], dimension: Dimension, bounds: Bounds) -> Marks | list[Issue]:
    """Read the marks of a number, or say everything that is wrong with them."""
    if given.keys().isdisjoint(MARKS):
        return Marks()
    if "kind" in given and given.keys() <= {"kind", "nominal"}:
        message = "This is a fixed number, and only one that has a law is of a kind."
        return [Issue((), message, "Give it a law, or take kind out.", "fixed-number")]
    knowledge, practice = _knowledge(given), _practice(given, dimension)
    nominal = _nominal(given, practice, dimension, bounds) if isinstance(practice, Practice) else None
    if isinstance(knowledge, Issue) or isinstance(practice, Issue) or isinstance(nominal, Issue):
        return [found for found in (knowledge, practice, nominal) if isinstance(found, Issue)]
    return Marks(practice, nominal, knowledge)


def _knowledge(given: Mapping[str, Tree]) -> bool | Issue:
    kind = given.get("kind", KINDS[0])
    if kind in KINDS:
        return kind == KINDS[1]
    remedy = "Write flight for what differs from flight to flight, knowledge for what is fixed and only not known."
    return Issue(("kind",), f'"{shortened(str(kind))}" is no kind of not knowing.', remedy, "unknown-kind")


def _practice(given: Mapping[str, Tree], dimension: Dimension) -> Practice | Issue | None:
    """Find the practice law that is named; None where none is."""
    known = [one.name for one in practices_for(dimension)]
    what = f"Practice laws for a {dimension.name}"
    if "practice" not in given:
        message = "A nominal value stands beside a practice law, and none is named."
        remedy = f'Name one under "practice", or write the value alone. {what}: {listed(known)}.'
        return Issue((), message, remedy, "missing-key") if "nominal" in given else None
    name = str(given["practice"])
    practice = PRACTICES.get(name)
    if practice is None:
        message = f'"{shortened(name)}" is no practice law.'
        return Issue(("practice",), message, meant(name, known, what), "unknown-practice")
    if dimension in practice.dimensions:
        return practice
    whose = " or a ".join(one.name for one in practice.dimensions)
    message = f'"{name}" is a practice law for a {whose}, and a {dimension.name} is wanted.'
    return Issue(("practice",), message, f"{what}: {listed(known)}.", "unknown-practice")


def _nominal(
    given: Mapping[str, Tree], practice: Practice, dimension: Dimension, bounds: Bounds
) -> float | Issue | None:
    """Read the nominal value; None where the practice law has none."""
    if not practice.takes_nominal:
        message = f'"{practice.name}" is a law that stands alone, about no nominal value.'
        return Issue(("nominal",), message, "Take nominal out.", "unknown-key") if "nominal" in given else None
    if "nominal" not in given:
        message = f'"{practice.name}" is a law about a nominal value, and none is given.'
        return Issue((), message, f'Write "nominal: {dimension.example}" too.', "missing-key")
    value = read_one(("nominal",), given["nominal"], dimension)
    if isinstance(value, list):
        return value[0]
    possible = bounds.admit(value) and (value > 0.0 or not practice.scales)
    return value if possible else _impossible(given["nominal"], practice, dimension, bounds)


def _impossible(given: Tree, practice: Practice, dimension: Dimension, bounds: Bounds) -> Issue:
    words = bounds.words(dimension.si)
    if practice.scales and bounds.low < 0.0:
        words = f"above {humanise(0.0, dimension.si)}"
    message = f'"{given}" is not possible as a nominal value here: it must be {words}.'
    return Issue(("nominal",), message, f"Write a {dimension.name} {words}.", "out-of-bounds")
