"""The JSON Schema of a study, for editors that complete keys and say what is wanted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from leadline.study.document import StudyDocument
from leadline.study.law_shapes import DATA, KINDS, PARAMETERS, SHAPES, Part, Shape, shape_for
from leadline.study.practice import Practice, practices_for
from leadline.study.reading import read_value
from leadline.units import DIMENSIONS, RATIO, Dimension

__all__ = ["json_schema"]

_NUMBER: Final = r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?"


def json_schema() -> dict[str, Any]:
    """Make the JSON Schema (2020-12) of the study document.

    Returns
    -------
    dict
        It completes keys and checks shapes and units; bounds, references and laws are
        checked when a study is loaded.
    """
    schema = StudyDocument.model_json_schema(by_alias=True, mode="validation")
    definitions = schema.pop("$defs")
    for dimension in DIMENSIONS:
        definitions[_quantity_key(dimension)] = _quantity(dimension)
        definitions[_number_key(dimension)] = _number(dimension)
    linked: dict[str, Any] = _linked({**schema, "$defs": definitions})
    used = _used(linked)
    linked["$defs"] = {key: value for key, value in linked["$defs"].items() if key in used}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "A leadline study", **linked}


def _quantity_key(dimension: Dimension) -> str:
    return f"quantity of {dimension.name}".replace(" ", "_")


def _number_key(dimension: Dimension) -> str:
    return f"number of {dimension.name}".replace(" ", "_")


def _reference(key: str) -> str:
    return f"#/$defs/{key}"


def _quantity(dimension: Dimension) -> dict[str, Any]:
    units = "|".join(symbol.replace("/", r"\/") for symbol in dimension.units if symbol)
    suffix = f"( *({units}))" + ("?" if dimension.bare else "") if units else ""
    text = {"type": "string", "pattern": f"^ *{_NUMBER}{suffix} *$"}
    shapes = [text, {"type": "number"}] if dimension.bare else [text]
    words = f"A {dimension.name}: {dimension.wanted}."
    return {"description": words, "examples": [dimension.example], "anyOf": shapes}


def _number(dimension: Dimension) -> dict[str, Any]:
    laws = [_law(shape, dimension) for shape in SHAPES if shape is not DATA]
    shapes = [{"$ref": _reference(_quantity_key(dimension))}, *laws, *_data_laws(dimension), *_practice_laws(dimension)]
    return {"description": f"A {dimension.name}, fixed ({dimension.wanted}) or with a law.", "anyOf": shapes}


def _law(shape: Shape, dimension: Dimension) -> dict[str, Any]:
    own = {"$ref": _reference(_quantity_key(dimension))}
    kinds: dict[Part, dict[str, Any]] = {
        Part.VALUE: own,
        Part.DIFFERENCE: own,
        Part.FACTOR: {"$ref": _reference("quantity_of_number")},
        Part.VALUES: {"type": "array", "items": own, "minItems": 1},
        Part.CHANCES: {"type": "array", "items": {"$ref": _reference("quantity_of_fraction")}, "minItems": 1},
    }
    properties = {"law": {"const": shape.name}, **{key: kinds[PARAMETERS[key]] for key in shape.keys}, **_KIND}
    required = [*shape.required, *(["law"] if shape.named else [])]
    return _record(shape.words, properties, required)


_KIND: Final[dict[str, Any]] = {
    "kind": {
        "description": "Whether it differs from flight to flight (if left out), or is fixed and only not known.",
        "enum": list(KINDS),
    }
}


def _practice_laws(dimension: Dimension) -> Iterator[dict[str, Any]]:
    """Give practice laws about a nominal value, then those that stand alone; the law may be written out beside."""
    known = practices_for(dimension)
    about = [one for one in known if one.takes_nominal]
    alone = [one for one in known if not one.takes_nominal]
    nominal = {"nominal": {"$ref": _reference(_quantity_key(dimension))}}
    if about:
        yield _practice("A practice law about a nominal value.", about, dimension, nominal)
    if alone:
        yield _practice("A practice law that stands alone.", alone, dimension, {})


def _practice(words: str, known: list[Practice], dimension: Dimension, more: dict[str, Any]) -> dict[str, Any]:
    named = {"practice": {"description": " ".join(one.says for one in known), "enum": [one.name for one in known]}}
    shapes = [shape_for(one.shape, {*one.of_nominal, *one.fixed}) for one in known]
    laws: dict[str, Any] = {key: part for shape in shapes for key, part in _law(shape, dimension)["properties"].items()}
    laws["law"] = {"enum": list(dict.fromkeys(shape.name for shape in shapes))}
    return _record(words, {**named, **more, **laws}, ["practice", *more])


def _data_laws(dimension: Dimension) -> Iterator[dict[str, Any]]:
    text = {"type": "string"}
    unit = {"enum": [symbol for symbol in dimension.units if symbol]} if len(dimension.units) > 1 else text
    needs = [] if dimension.bare else ["unit"]
    law = {"law": {"const": DATA.name}}
    column = {**law, "data": text, "column": text, "unit": unit, **_KIND}
    yield _record(DATA.words, column, ["data", "column", *needs])
    values = {"type": "array", "items": {"type": "number"}, "minItems": 2}
    yield _record(
        "From data: the values themselves.", {**law, "values": values, "unit": unit, **_KIND}, ["law", "values", *needs]
    )


def _record(description: str, properties: dict[str, Any], required: list[str]) -> dict[str, Any]:
    return {
        "description": description,
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }


def _linked(part: Any) -> Any:
    """Put references to the numbers' definitions where pydantic left our marks, and tidy titles."""
    if isinstance(part, list):
        return [_linked(inner) for inner in part]
    if not isinstance(part, dict):
        return part
    made = {key: _linked(inner) for key, inner in part.items() if not _says_nothing(key, inner)}
    if isinstance(made.get("examples"), list):
        made["examples"] = [read_value(text) if isinstance(text, str) else text for text in made["examples"]]
    if "x-per-liquid" in made:
        number = made.pop("x-per-liquid")
        liquids = _record("One for each liquid.", {"oxidiser": number, "fuel": number}, [])
        return {**made, "anyOf": [number, liquids]}
    if "x-quantity" in made:
        name, fixed, bounds = made.pop("x-quantity"), made.pop("x-fixed"), made.pop("x-bounds")
        dimension = next(d for d in DIMENSIONS if d.name == name)
        key = _quantity_key(dimension) if fixed else _number_key(dimension)
        words = f"{made.get('description', '')} Must be {bounds}; {dimension.wanted}.".strip()
        if "default" in made:
            made["default"] = _default_written(made["default"], dimension)
        return {**made, "description": words, "$ref": _reference(key)}
    return made


def _default_written(default: Any, dimension: Dimension) -> Any:
    """Write a default as a study would: with its unit, and a law by its own keys."""
    if isinstance(default, dict):
        return {
            key: _default_written(value, _UNLESS.get(key, dimension)) for key, value in default["parameters"].items()
        }
    return f"{default:.12g} {dimension.si}" if dimension.si else default


_UNLESS: Final = {key: RATIO for key, part in PARAMETERS.items() if part is Part.FACTOR}
"""Parameters of a law that are plain numbers."""


def _says_nothing(key: str, inner: Any) -> bool:
    """Whether a member is a title made of a name, or a default that stands for leaving out."""
    return (key == "title" and isinstance(inner, str)) or (key == "default" and inner is None)


def _used(schema: dict[str, Any]) -> set[str]:
    """Find the definitions that are referred to from the top, directly or through others."""
    used: set[str] = set()
    waiting = [{key: value for key, value in schema.items() if key != "$defs"}]
    while waiting:
        for key in _references(waiting.pop()) - used:
            used.add(key)
            waiting.append(schema["$defs"][key])
    return used


def _references(part: Any) -> set[str]:
    if isinstance(part, list):
        return set().union(*map(_references, part))
    if not isinstance(part, dict):
        return set()
    own = {part["$ref"].rpartition("/")[2]} if isinstance(part.get("$ref"), str) else set()
    return own.union(*(_references(inner) for inner in part.values()))
