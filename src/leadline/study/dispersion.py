"""A dispersed number: read from the keys that tell its law, and written back in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from leadline.errors import Issue
from leadline.sampling.laws import Law
from leadline.sampling.refusals import LawError
from leadline.study.bounds import TOLERATED, Bounds, Overreach
from leadline.study.data_files import DataFolder
from leadline.study.law_shapes import DATA, PARAMETERS, Part, Shape, shape_of
from leadline.study.places import Tree
from leadline.study.suggest import closest, listed, shortened
from leadline.units import FRACTION, RATIO, Dimension, QuantityError, humanise, parse_quantity

__all__ = ["Dispersion", "read_dispersion", "written"]

Parameter = float | tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Dispersion:
    """A number that has a law; `parameters` are what the study wrote, in SI.

    `note` says what was done to a law that just reaches beyond a bound.
    """

    shape: str
    parameters: Mapping[str, Parameter]
    law: Law
    note: str | None = None

    def write(self, unit: str) -> dict[str, Tree]:
        """Write the law in SI, so that reading it gives the same law again."""
        made: dict[str, Tree] = {"law": self.shape}
        own = "" if self.shape == DATA.name else unit
        for key, value in self.parameters.items():
            shown = own if PARAMETERS[key] in _IN_UNIT else ""
            made[key] = [written(v, shown) for v in value] if isinstance(value, tuple) else written(value, shown)
        return {**made, "unit": unit} if self.shape == DATA.name and unit else made


_IN_UNIT: Final = frozenset({Part.VALUE, Part.DIFFERENCE, Part.VALUES})


def written(value: float, unit: str) -> Tree:
    """Write a number with its SI unit, or plainly where it has none."""
    return f"{value + 0.0!r} {unit}" if unit else value + 0.0


def read_dispersion(
    given: dict[str, Tree], dimension: Dimension, bounds: Bounds, folder: DataFolder
) -> Dispersion | list[Issue]:
    """Read a mapping that tells a law, or say everything that is wrong with it."""
    shape = shape_of(given)
    if isinstance(shape, Issue):
        return [shape]
    parameters, issues = _read_data(given, dimension, folder) if shape is DATA else _read_all(given, shape, dimension)
    if issues:
        return issues
    law = _build(shape, parameters, dimension)
    if isinstance(law, Issue):
        return [law]
    return _within(Dispersion(shape.name, parameters, law), dimension, bounds)


def _within(made: Dispersion, dimension: Dimension, bounds: Bounds) -> Dispersion | list[Issue]:
    """Refuse a law that leaves the bounds too often; cut off one that hardly does."""
    beyond = bounds.overreach(made.law, dimension.si)
    if beyond is None:
        return made
    if beyond.chance > TOLERATED:
        message = f"This law gives {beyond.beyond} with a chance of {beyond.chance:.2g}, and that is impossible here."
        return [Issue((), message, _softer(made, beyond, bounds, dimension), "impossible-values")]
    note = f"gives {beyond.beyond} with a chance of {beyond.chance:.1g}; its law is cut off there"
    return Dispersion(made.shape, made.parameters, bounds.cut(made.law), note)


def _softer(made: Dispersion, beyond: Overreach, bounds: Bounds, dimension: Dimension) -> str:
    limit = humanise(bounds.low if beyond.cut == "at_least" else bounds.high, dimension.si)
    most = "at most one case in a million may lie there"
    if made.shape in {"normal", "truncated normal"}:
        other = ", or a lognormal law {median: ..., spread: ...}" if beyond.cut == "at_least" else ""
        return f"Make sd smaller, or cut the law off with {beyond.cut}: {limit}{other}; {most}."
    return f"Keep its values {bounds.words(dimension.si)}; {most}."


def _build(shape: Shape, parameters: Mapping[str, Parameter], dimension: Dimension) -> Law | Issue:
    try:
        with np.errstate(all="ignore"):
            return shape.build(parameters)
    except LawError as error:
        return _law_issue(error, shape, parameters, dimension)


_OTHER_NAMES: Final = {"low": "at_least", "high": "at_most"}


def _law_issue(error: LawError, shape: Shape, parameters: Mapping[str, Parameter], dimension: Dimension) -> Issue:
    field = error.field.partition("[")[0]
    field = field if field in parameters or shape is DATA else _OTHER_NAMES.get(field, field)
    path = (field,) if field in parameters and shape is not DATA else ()
    unit = f" (in {dimension.si})" if dimension.si and PARAMETERS.get(field) in _IN_UNIT else ""
    value = f"{error.value:g}" if isinstance(error.value, int | float) else shortened(str(error.value))
    return Issue(path, f"{field} must {error.bound}, not {value}{unit}.", error.remedy, "law")


def _read_all(given: dict[str, Tree], shape: Shape, dimension: Dimension) -> tuple[dict[str, Parameter], list[Issue]]:
    parameters: dict[str, Parameter] = dict(shape.defaults)
    issues = _key_issues(given, ("law", *shape.keys), shape.required, shape.name)
    if shape.name == "truncated normal" and not given.keys() & {"at_least", "at_most"}:
        issues.append(Issue((), "Nothing cuts this law off.", "Give at_least or at_most, or both.", "missing-key"))
    for key in shape.keys:
        if key in given:
            read = _read_part((key,), given[key], PARAMETERS[key], dimension)
            if isinstance(read, list):
                issues.extend(read)
            else:
                parameters[key] = read
    return parameters, issues


def _key_issues(given: Mapping[str, Tree], known: tuple[str, ...], required: tuple[str, ...], name: str) -> list[Issue]:
    issues = []
    for key in given:
        if key not in known:
            near = closest(key, known)
            question = "" if near is None else f'Did you mean "{near}"? '
            message = f'A {name} law has no "{shortened(key)}".'
            issues.append(Issue((key,), message, f"{question}Its keys: {listed(known)}.", "unknown-key"))
    missing = [key for key in required if key not in given]
    issues.extend(
        Issue((), f'A {name} law needs "{key}".', f"Its keys: {listed(required)}.", "missing-key") for key in missing
    )
    return issues


def _read_part(path: tuple[str | int, ...], value: Tree, part: Part, dimension: Dimension) -> Parameter | list[Issue]:
    if part in {Part.VALUES, Part.CHANCES}:
        return _read_list(path, value, FRACTION if part is Part.CHANCES else dimension)
    wanted = RATIO if part is Part.FACTOR else dimension
    return _read_one(path, value, wanted, difference=part is Part.DIFFERENCE)


def _read_one(
    path: tuple[str | int, ...], value: Tree, dimension: Dimension, *, difference: bool = False
) -> float | list[Issue]:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        message = f"A {dimension.name} is wanted here."
        return [Issue(path, message, f"Write {dimension.wanted}.", "not-a-number")]
    try:
        return parse_quantity(value, dimension, difference=difference)
    except QuantityError as error:
        return [Issue(path, error.message, error.remedy, error.code)]


def _read_list(path: tuple[str | int, ...], value: Tree, dimension: Dimension) -> tuple[float, ...] | list[Issue]:
    if not isinstance(value, list) or not value:
        message = "A list is wanted here."
        return [Issue(path, message, f"Write [{dimension.example}, ...].", "not-a-list")]
    values: list[float] = []
    issues: list[Issue] = []
    for position, inner in enumerate(value):
        read = _read_one((*path, position), inner, dimension)
        if isinstance(read, list):
            issues.extend(read)
        else:
            values.append(read)
    return issues or tuple(values)


def _read_data(
    given: dict[str, Tree], dimension: Dimension, folder: DataFolder
) -> tuple[dict[str, Parameter], list[Issue]]:
    embedded = "values" in given
    known = ("law", "values", "unit") if embedded else ("law", "data", "column", "unit")
    required = known[1:2] if embedded else known[1:3]
    if not dimension.bare:
        required = (*required, "unit")
    issues = _key_issues(given, known, required, DATA.name)
    issues += [_text_wanted(key) for key in ("data", "column", "unit") if not isinstance(given.get(key, ""), str)]
    if issues:
        return {}, issues
    unit = str(given.get("unit", ""))
    texts: Any = given["values"] if embedded else folder.column(str(given["data"]), str(given["column"]))
    if isinstance(texts, Issue):
        return {}, [texts]
    path = ("values",) if embedded else ("column",)
    read = _read_list(
        path, [f"{text} {unit}".strip() for text in texts] if isinstance(texts, list) else texts, dimension
    )
    if isinstance(read, list):
        return {}, read[:3] if embedded else _in_column(read)
    return {"values": read}, []


def _in_column(issues: list[Issue]) -> list[Issue]:
    """Say the first three of a file's bad values; they have no place in the study itself."""
    return [Issue(issue.path[:1], issue.message, issue.remedy, issue.code) for issue in issues[:3]]


def _text_wanted(key: str) -> Issue:
    return Issue((key,), f'"{key}" is not a text.', f'Write a text for "{key}".', "not-a-text")
