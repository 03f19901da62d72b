"""A dispersed number: read from the keys that tell its law, and written back in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from leadline.errors import Issue
from leadline.sampling.laws import Law
from leadline.sampling.refusals import LawError
from leadline.study.bounds import TOLERATED, Bounds, Overreach
from leadline.study.data_files import DataFolder
from leadline.study.law_parts import Parameter, read_list, read_part
from leadline.study.law_shapes import DATA, KINDS, MARKS, PARAMETERS, Part, Shape, shape_for, shape_of
from leadline.study.marks import Marks, read_marks
from leadline.study.places import Tree
from leadline.study.practice import Practice
from leadline.study.suggest import closest, listed, shortened
from leadline.units import Dimension, humanise

__all__ = ["Dispersion", "read_dispersion", "written"]


@dataclass(frozen=True, slots=True)
class Dispersion:
    """A number that has a law; `parameters` are what the study wrote, in SI.

    `note` says what was done to a law that just reaches beyond a bound. A law made from
    `practice` keeps that name and the nominal value it was made from. A number that is
    `knowledge` is fixed and only not known; the others differ from flight to flight.
    """

    shape: str
    parameters: Mapping[str, Parameter]
    law: Law
    note: str | None = None
    practice: str | None = None
    nominal: float | None = None
    knowledge: bool = False

    def write(self, unit: str) -> dict[str, Tree]:
        """Write the law in SI, so that reading it gives the same law again."""
        made: dict[str, Tree] = {"law": self.shape}
        own = "" if self.shape == DATA.name else unit
        for key, value in self.parameters.items():
            shown = own if PARAMETERS[key] in _IN_UNIT else ""
            made[key] = [written(v, shown) for v in value] if isinstance(value, tuple) else written(value, shown)
        if self.shape == DATA.name and unit:
            made["unit"] = unit
        return made | self._marks(unit)

    def _marks(self, unit: str) -> dict[str, Tree]:
        made: dict[str, Tree] = {}
        if self.practice is not None:
            made["practice"] = self.practice
        if self.nominal is not None:
            made["nominal"] = written(self.nominal, unit)
        if self.knowledge:
            made["kind"] = KINDS[1]
        return made


_IN_UNIT: Final = frozenset({Part.VALUE, Part.DIFFERENCE, Part.VALUES})


def written(value: float, unit: str) -> Tree:
    """Write a number with its SI unit, or plainly where it has none."""
    return f"{value + 0.0!r} {unit}" if unit else value + 0.0


def read_dispersion(
    given: dict[str, Tree], dimension: Dimension, bounds: Bounds, folder: DataFolder
) -> Dispersion | list[Issue]:
    """Read a mapping that tells a law, or say everything that is wrong with it."""
    marks = read_marks(given, dimension, bounds)
    if isinstance(marks, list):
        return marks
    own = {key: value for key, value in given.items() if key not in MARKS}
    if marks.practice is None:
        made = _read_own(own, dimension, bounds, folder)
    else:
        made = _read_practice(marks, marks.practice, own, dimension, bounds, folder)
    return made if isinstance(made, list) else replace(made, knowledge=marks.knowledge)


def _read_own(
    given: dict[str, Tree], dimension: Dimension, bounds: Bounds, folder: DataFolder
) -> Dispersion | list[Issue]:
    """Read a law that the study writes out."""
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


def _read_practice(
    marks: Marks, practice: Practice, own: dict[str, Tree], dimension: Dimension, bounds: Bounds, folder: DataFolder
) -> Dispersion | list[Issue]:
    """Make the law that a practice law gives; one written out beside it must be the same."""
    shape = shape_for(practice.shape, {*practice.of_nominal, *practice.fixed})
    parameters: dict[str, Parameter] = {**shape.defaults, **practice.parameters(marks.nominal or 0.0)}
    if not own:
        law = shape.build(parameters)
        return _within(Dispersion(shape.name, parameters, law, None, practice.name, marks.nominal), dimension, bounds)
    made = _read_own(own, dimension, bounds, folder)
    if isinstance(made, list):
        return made
    if not _same(made, shape, parameters):
        return [_other_law(practice)]
    return replace(made, practice=practice.name, nominal=marks.nominal)


def _same(made: Dispersion, shape: Shape, parameters: Mapping[str, Parameter]) -> bool:
    """Whether a law written out is one of a shape with these parameters, up to rounding."""
    same_keys = made.shape == shape.name and made.parameters.keys() == parameters.keys()
    return same_keys and all(np.allclose(made.parameters[key], parameters[key], 1e-9, 0.0) for key in parameters)


def _other_law(practice: Practice) -> Issue:
    message = f'The law written here is not the one that "{practice.name}" gives for this nominal value.'
    remedy = "Keep either practice and nominal, or the law."
    return Issue((), message, remedy, "other-law")


def _within(made: Dispersion, dimension: Dimension, bounds: Bounds) -> Dispersion | list[Issue]:
    """Refuse a law that leaves the bounds too often; cut off one that hardly does."""
    beyond = bounds.overreach(made.law, dimension.si)
    if beyond is None:
        return made
    if beyond.chance > TOLERATED:
        message = f"This law gives {beyond.beyond} with a chance of {beyond.chance:.2g}, and that is impossible here."
        return [Issue((), message, _softer(made, beyond, bounds, dimension), "impossible-values")]
    note = f"gives {beyond.beyond} with a chance of {beyond.chance:.1g}; its law is cut off there"
    return replace(made, law=bounds.cut(made.law), note=note)


def _softer(made: Dispersion, beyond: Overreach, bounds: Bounds, dimension: Dimension) -> str:
    limit = humanise(bounds.low if beyond.cut == "at_least" else bounds.high, dimension.si)
    most = "at most one case in a million may lie there"
    if made.practice is not None:
        return f"Write a law of your own {bounds.words(dimension.si)} in its place; {most}."
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
            read = read_part((key,), given[key], PARAMETERS[key], dimension)
            if isinstance(read, list):
                issues.extend(read)
            else:
                parameters[key] = read
    return parameters, issues


def _key_issues(given: Mapping[str, Tree], known: tuple[str, ...], required: tuple[str, ...], name: str) -> list[Issue]:
    issues = []
    for key in given:
        if key not in known:
            near = closest(key, (*known, *MARKS))
            question = "" if near is None else f'Did you mean "{near}"? '
            message = f'A {name} law has no "{shortened(key)}".'
            issues.append(Issue((key,), message, f"{question}Its keys: {listed(known)}.", "unknown-key"))
    missing = [key for key in required if key not in given]
    issues.extend(
        Issue((), f'A {name} law needs "{key}".', f"Its keys: {listed(required)}.", "missing-key") for key in missing
    )
    return issues


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
    read = read_list(
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
