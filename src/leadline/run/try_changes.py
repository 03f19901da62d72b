"""Changes somebody tries on a study: a nominal moved, a spread widened, a value replaced, an option taken."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final

from pydantic import JsonValue

from leadline.errors import Issue, StudyError
from leadline.run.dispersed import called
from leadline.run.units_of_inputs import found_at
from leadline.study import Study
from leadline.study.law_shapes import PARAMETERS, Part, Shape, shape_of
from leadline.study.paths import full_path
from leadline.study.reading import read_value
from leadline.units import DIMENSIONS, QuantityError, humanise, parse_quantity

__all__ = ["Change", "Changed", "Nominal", "OptionTaken", "Replaced", "Spread", "changed", "middle_of"]

Written = dict[str, JsonValue]


@dataclass(frozen=True, slots=True)
class Nominal:
    """The middle of a law moved, or a fixed number replaced; `to` is a quantity with its unit."""

    place: str
    to: str


@dataclass(frozen=True, slots=True)
class Spread:
    """A law made so many times as wide about its middle."""

    place: str
    times: float


@dataclass(frozen=True, slots=True)
class Replaced:
    """Anything in the study replaced; None takes an entry out."""

    place: str
    to: JsonValue


@dataclass(frozen=True, slots=True)
class OptionTaken:
    """An option taken instead of the base study."""

    name: str


Change = Nominal | Spread | Replaced | OptionTaken


@dataclass(frozen=True, slots=True)
class Changed:
    """A study with changes made.

    Parameters
    ----------
    study
        What is flown.
    values
        What the changes come to, by places: what an option of the study would say.
    words
        Each change in words.
    """

    study: Study
    values: Mapping[str, JsonValue]
    words: tuple[str, ...]


def changed(study: Study, changes: Sequence[Change]) -> Changed:
    """Make changes to a study, in the order given.

    Raises
    ------
    StudyError
        A change does not fit; the first step of each issue's path is the change's position.
    """
    values: dict[str, JsonValue] = {}
    words = []
    for position, change in enumerate(changes):
        with _at_position(position):
            study = _made(study, change, values)
        words.append(_words(change))
    return Changed(study, values, tuple(words))


@contextmanager
def _at_position(position: int) -> Iterator[None]:
    try:
        yield
    except StudyError as error:
        issues = [Issue((position, *each.path), each.message, each.remedy, each.code) for each in error.issues]
        raise StudyError(issues) from error


def _made(study: Study, change: Change, values: dict[str, JsonValue]) -> Study:
    if isinstance(change, OptionTaken):
        if values or study.option is not None:
            raise StudyError([_issue("An option is taken of the base study.", "Take it first.", "option")])
        values.update(study.document.options.get(change.name, {}))
        return study.with_option(change.name)
    place = full_path(change.place)
    new = change.to if isinstance(change, Replaced) else _new_value(study, place, change)
    given = {place: new, **(_untied(study, place) if isinstance(change, Spread) and not isinstance(new, dict) else {})}
    # One at a time: each change is of the study as the ones before it have made it.
    made = study.with_values(given)
    values |= {at: read_value(one) if isinstance(one, str) else one for at, one in given.items()}
    return made


def _untied(study: Study, place: str) -> Written:
    """Return the rank correlations without those of a number that has no spread left, where there are any."""
    given = study.tree.get("dependence")
    pairs = given if isinstance(given, list) else []
    left = [pair for pair in pairs if not isinstance(pair, dict) or place not in map(full_path, _between(pair))]
    return {"dependence": left} if len(left) < len(pairs) else {}


def _between(pair: Mapping[str, Any]) -> list[str]:
    names = pair.get("between")
    return [str(name) for name in names] if isinstance(names, list) else []


def _new_value(study: Study, place: str, change: Nominal | Spread) -> JsonValue:
    law = _written_at(study, place)
    if isinstance(change, Nominal):
        return _moved(law, change.to, place) if isinstance(law, dict) else change.to
    if not isinstance(law, dict):
        raise StudyError([_issue(f"{place} has no law, so there is no spread.", "Give it a law.", "no-law")])
    if not 0.0 <= change.times <= 100.0:
        raise StudyError([_issue("A spread is multiplied by 0 to 100.", "Choose such a number.", "spread")])
    return _spread(law, change.times)


def _written_at(study: Study, place: str) -> Any:
    """Return what stands at a place in SI, with everything resolved."""
    try:
        found = found_at(study.resolved(), place)
    except (KeyError, StopIteration, TypeError, AttributeError):
        found = None
    if found is None or isinstance(found, bool | list):
        raise StudyError([_issue(f"There is no number at {place}.", "Name a number of the study.", "no-number")])
    return found


USUAL_WEIGHT: Final = 4.0
_NONE: Final = 1e-6
"""A spread times less than this is none: the ends of such a law would be written as one number."""

_MIDDLES: Final = ("mean", "median", "likely")
_SHIFTED: Final = (Part.VALUE, Part.VALUES)
_CUTS: Final = ("at_least", "at_most")
"""Where a law is cut off stays, whatever moves."""


def _moved(law: Written, to: str, place: str) -> JsonValue:
    """Move a law: additively, or where it is a law of factors by keeping its factor."""
    if "practice" in law and "nominal" in law:
        return {"practice": law["practice"], "nominal": to, **_kind(law)}
    unit = _unit(law)
    by = _quantity(to, unit, place) - _middle(law)
    made: Written = {}
    for key, value in law.items():
        moves = PARAMETERS.get(key) in _SHIFTED and key not in _CUTS
        made[key] = _each(key, value, unit, by=by if moves else 0.0)
    return _plainly(made)


def _spread(law: Written, times: float) -> JsonValue:
    unit, about = _unit(law), _middle(law)
    if times < _NONE:
        return _written(about, unit)
    made: Written = {}
    for key, value in law.items():
        part = PARAMETERS.get(key)
        if part is Part.FACTOR and key == "spread":
            made[key] = float(str(value)) ** times
        elif part is Part.DIFFERENCE:
            made[key] = _each(key, value, unit, times=times)
        else:
            widens = part in _SHIFTED and key not in {*_MIDDLES, *_CUTS}
            made[key] = _each(key, value, unit, times=times if widens else 1.0, about=about)
    return _plainly(made)


def _plainly(law: Written) -> Written:
    """Write a law as somebody would: without what its keys tell, and no longer as a practice law."""
    shape = shape_of({key: value for key, value in law.items() if key != "law"})
    told = {"law"} if isinstance(shape, Shape) and shape.name == law.get("law") and not shape.named else set()
    usual = {"weight"} if law.get("weight") == USUAL_WEIGHT else set()
    return {key: value for key, value in law.items() if key not in {"practice", "nominal", *told, *usual}}


def _kind(law: Written) -> Written:
    return {"kind": law["kind"]} if "kind" in law else {}


def middle_of(law: Written) -> str | None:
    """Return the middle of a resolved law as a text with its unit; None where it has none."""
    if "practice" in law and "nominal" in law:
        return str(_written(_number(law["nominal"]), str(law["nominal"]).partition(" ")[2]))
    try:
        return str(_written(_middle(law), _unit(law)))
    except StudyError:
        return None


def _middle(law: Written) -> float:
    """Return the number a law is about: the mean, median or most likely value it names, else the middle of its ends."""
    named = next((key for key in _MIDDLES if key in law), None)
    if named is not None:
        return _number(law[named])
    if "low" in law and "high" in law:
        return 0.5 * (_number(law["low"]) + _number(law["high"]))
    values = law.get("values")
    numbers = sorted(map(_number, values)) if isinstance(values, list) else []
    if not numbers:
        raise StudyError([_issue("This law has no middle to move.", "Replace it as a whole.", "no-middle")])
    return numbers[len(numbers) // 2]


def _number(written: JsonValue) -> float:
    return float(str(written).partition(" ")[0])


def _unit(law: Written) -> str:
    texts = [str(value).partition(" ")[2] for key, value in law.items() if PARAMETERS.get(key) is Part.VALUE]
    return next((unit for unit in texts if unit), str(law.get("unit", "")))


def _each(
    key: str, value: JsonValue, unit: str, *, by: float = 0.0, times: float = 1.0, about: float = 0.0
) -> JsonValue:
    """Write a parameter v, or each of a list, as about + times (v - about) + by; what is no quantity stays."""
    if PARAMETERS.get(key) not in {*_SHIFTED, Part.DIFFERENCE}:
        return value
    if isinstance(value, list):
        return [_each(key, each, str(each).partition(" ")[2], by=by, times=times, about=about) for each in value]
    number = _number(value)
    return _written(number if times == 1.0 and by == 0.0 else about + times * (number - about) + by, unit)


def _written(value: float, unit: str) -> JsonValue:
    """Write a value as somebody would: to twelve digits, in the unit a page shows it in."""
    if not unit:
        return float(f"{value:.12g}")
    shown = humanise(value, unit, 12)
    dimension = next(each for each in DIMENSIONS if each.si == unit)
    try:
        good = math.isclose(parse_quantity(shown, dimension), value, rel_tol=1e-9)
    except QuantityError:
        good = False
    return shown if good else f"{value!r} {unit}"


def _quantity(text: str, unit: str, place: str) -> float:
    error: QuantityError | None = None
    for dimension in DIMENSIONS:
        if dimension.si == unit:
            try:
                return parse_quantity(text, dimension)
            except QuantityError as failed:
                error = error or failed
    if error is None:
        raise StudyError([_issue(f"{place} has no unit known.", "Replace it as a whole.", "unit")])
    raise StudyError([_issue(error.message, error.remedy, error.code)])


def _words(change: Change) -> str:
    match change:
        case Nominal(place, to):
            return f"{called(full_path(place))} at {to}"
        case Spread(place, times):
            return f"the spread of {called(full_path(place))} times {times:g}"
        case Replaced(place, None):
            return f"without {full_path(place)}"
        case Replaced(place, to) if isinstance(to, str | int | float) and full_path(place).count(".") > 1:
            return f"{called(full_path(place))} at {to}"
        case Replaced(place, _):
            return f"{full_path(place)} replaced"
        case OptionTaken(name):
            return f"option {name}"


def _issue(message: str, remedy: str, code: str) -> Issue:
    return Issue((), message, remedy, code)
