"""The values within a law: one quantity, or a list of them."""

from __future__ import annotations

from leadline.errors import Issue, Path
from leadline.study.law_shapes import Part
from leadline.study.places import Tree
from leadline.units import FRACTION, RATIO, Dimension, QuantityError, parse_quantity

__all__ = ["Parameter", "read_list", "read_one", "read_part"]

Parameter = float | tuple[float, ...]
"""What a law is told, in SI."""


def read_part(path: Path, value: Tree, part: Part, dimension: Dimension) -> Parameter | list[Issue]:
    """Read a parameter of a law, or say everything that is wrong with it."""
    if part in {Part.VALUES, Part.CHANCES}:
        return read_list(path, value, FRACTION if part is Part.CHANCES else dimension)
    wanted = RATIO if part is Part.FACTOR else dimension
    return read_one(path, value, wanted, difference=part is Part.DIFFERENCE)


def read_one(path: Path, value: Tree, dimension: Dimension, *, difference: bool = False) -> float | list[Issue]:
    """Read one quantity; the path is where it stands within the number."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        message = f"A {dimension.name} is wanted here."
        return [Issue(path, message, f"Write {dimension.wanted}.", "not-a-number")]
    try:
        return parse_quantity(value, dimension, difference=difference)
    except QuantityError as error:
        return [Issue(path, error.message, error.remedy, error.code)]


def read_list(path: Path, value: Tree, dimension: Dimension) -> tuple[float, ...] | list[Issue]:
    """Read a list of quantities, or say everything that is wrong with them."""
    if not isinstance(value, list) or not value:
        message = "A list is wanted here."
        return [Issue(path, message, f"Write [{dimension.example}, ...].", "not-a-list")]
    values: list[float] = []
    issues: list[Issue] = []
    for position, inner in enumerate(value):
        read = read_one((*path, position), inner, dimension)
        if isinstance(read, list):
            issues.extend(read)
        else:
            values.append(read)
    return issues or tuple(values)
